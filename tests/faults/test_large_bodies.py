"""Bodies as large as may be, sent all at once: the service stays small, and every caller is answered."""

import http.client
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from tests.support import examples
from tests.support.servers import serving
from tests.support.services import ask, released

AT_ONCE = 16
MIB = 1024
MOST_MIB = 500
BODIES = {
    "numbers alone": (b"1\n" * 8_000_000, "text/csv"),
    "good rows": (b"characteristic,unit,value\n" + b"breaking_force,N,1512\n" * 720_000, "text/csv"),
    "rows that all differ": (
        b"characteristic,unit,value\n" + b"".join(b"a%d,N,1\n" % each for each in range(900_000)),
        "text/csv",
    ),
    "brackets": (b"[" + b"[]," * 5_500_000 + b"1]", "application/json"),
    "too many readings": (b'{"series": [{"values": [' + b"1," * 8_000_000 + b"1]}]}", "application/json"),
}
SECONDS = 300


def most_held(pid: int) -> float:
    """The most that a process has had in memory, in MiB."""
    lines = Path(f"/proc/{pid}/status").read_text(encoding="ascii").splitlines()
    return int(next(line for line in lines if line.startswith("VmHWM")).split()[1]) / MIB


def sent(address: str, number: int, body: bytes, media_type: str) -> int:
    """The status by which one is answered."""
    query = "" if media_type == "application/json" else f"?batch=B{number}"
    connection = http.client.HTTPConnection(urlsplit(address).netloc, timeout=SECONDS)
    connection.request("POST", f"/v1/lots/{examples.LOT}/readings{query}", body, {"Content-Type": media_type})
    status = connection.getresponse().status
    connection.close()
    return status


@pytest.mark.long("sixteen bodies of 16 MiB at once take the memory and the time of a machine by itself")
@pytest.mark.parametrize("name", BODIES)
def test_large_bodies_sent_at_once_leave_the_service_small(tmp_path: Path, name: str) -> None:
    """A machine of one gigabyte must not end the service because somebody exports the wrong sheet."""
    body, media_type = BODIES[name]
    with serving(tmp_path) as server, ThreadPoolExecutor(AT_ONCE) as threads:
        address = f"http://127.0.0.1:{server.port}"
        released(address, examples.GRADE, examples.SPECIFICATION)
        assert 201 == ask(address, "PUT", f"/v1/lots/{examples.LOT}", examples.OPENING).status
        statuses = list(threads.map(lambda number: sent(address, number, body, media_type), range(AT_ONCE)))
        held = most_held(server.process.pid)
        assert 200 == ask(address, "POST", "/v1/checks", examples.CHECK).status
    print(f"{name}: at most {held:.0f} MiB,", sorted(statuses))  # noqa: T201  shown by -s, for the report of the long form

    assert {201, 422, 503} >= set(statuses)
    assert {503} != set(statuses)
    assert MOST_MIB > held
