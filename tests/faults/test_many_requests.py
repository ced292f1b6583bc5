"""Many requests to one process: what it holds in memory stays as it was after the first ones."""

import json
from collections.abc import Sequence
from pathlib import Path

from tests.bench.resident import mebibytes
from tests.faults.invented import CHECK, GRADE
from tests.faults.talking import line_to, request
from tests.support.commands import SPECIFICATION, forces
from tests.support.servers import serving
from tests.support.services import released
from tests.support.sizes import of_two

REQUESTS = of_two(6_000, 500_000)
WARM = of_two(1_500, 50_000)
MOST_GROWTH_MIB = 4.0
"""What an allocator may still come to hold; a leak of ten bytes a request would be 5 MiB over the long form."""
EVIDENCE = forces(1400, 1500, 1380.5)
BY_GRADE = {"against": {"grade": GRADE}, "evidence": EVIDENCE}
BY_SPECIFICATION = {"against": {"specification": SPECIFICATION}, "evidence": EVIDENCE}
MIX: Sequence[tuple[int, bytes]] = (
    *[(200, CHECK)] * 14,
    (200, request("POST", "/v1/verdicts", json.dumps(BY_GRADE).encode())),
    (200, request("POST", "/v1/verdicts", json.dumps(BY_SPECIFICATION).encode())),
    (422, request("POST", "/v1/checks", b'{"grade": 1}')),
    (400, request("POST", "/v1/checks", b'{"grade": ')),
    (200, request("GET", "/v1/grades")),
    (404, request("GET", "/v1/grades/NONE/in-force")),
    (404, request("GET", "/nowhere")),
)
"""(status, request): most of them such as stations send, one of each other way through the service."""


def test_memory_is_flat_over_many_requests(tmp_path: Path) -> None:
    """A service that is started once a year must not grow until the machine ends it."""
    held = []
    with serving(tmp_path) as server:
        address = f"http://127.0.0.1:{server.port}"
        released(address, GRADE, SPECIFICATION)
        with line_to(address) as line:
            for number in range(1, WARM + REQUESTS + 1):
                status, content = MIX[number % len(MIX)]
                assert status == line.ask(content).status, content
                if number >= WARM and number % (REQUESTS // 10) == WARM % (REQUESTS // 10):
                    held.append(mebibytes(server.process.pid))
    print("MiB:", *(f"{each:.1f}" for each in held))  # noqa: T201  shown by -s, for the report of the long form

    assert MOST_GROWTH_MIB > max(held[1:]) - held[0]
