"""Bodies that are nearly right, on every operation that takes one: none is a fault of ours, and checks go on beside them."""

import asyncio
import json
import os
import random
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import pytest

from tests.bench.resident import mebibytes
from tests.contract.test_mutants import mutate
from tests.faults.bodies import Within, within
from tests.faults.test_mutated_requests import WORDS
from tests.support import examples
from tests.support.sizes import of_two
from tests.support.takers import BEFORE, LOT, Taker, takers

BODIES = of_two(200, 10_000)
"""On each operation."""
ROWS = of_two(400, 10_000)
"""Bodies of rows, of either kind."""
BETWEEN_CHECKS = 20
CHECK = json.dumps(examples.CHECK).encode()
MOST_GROWTH_MIB = 64
"""After the first tenth: by what is kept of good bodies, and compiled grades, whose cache has its own bound."""
CELLS: Sequence[Any] = (
    *(
        "breaking_force",
        "runnage",
        "N",
        "lbf",
        "m/kg",
        "1512",
        "-1",
        "0",
        "1e400",
        "1e13",
        "0x1",
        "1_0",
        "nan",
        "inf",
        "2",
        "3",
    ),
    *(
        "b1",
        "b" * 70,
        "slipped",
        "struck",
        "",
        " ",
        '"',
        '""',
        '"a,b"',
        '"a""b"',
        '"a',
        "\t",
        "\x00",
        "\x85",
        "\ufeff",
        "é",
        "\U0001f9f5",
    ),
)
GOOD: Mapping[str, Any] = {
    "characteristic": "breaking_force",
    "unit": "N",
    "value": 1512,
    "package": "b1",
    "stage": 1,
    "remark": "slipped",
}
NAMES = ("characteristic", "unit", "value", "package", "stage", "remark", "Value", "", '"unit"', "x")
ENDS = ("\n", "\n", "\n", "\r\n", "\r", "\n\n", "", "\x0b", "\u2028")


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Within]:
    """One within this process, with all that the bodies are about."""
    with within(tmp_path_factory.mktemp("within")) as made:
        for method, path, body in BEFORE[2:]:
            assert 201 == made.status_of(path, json.dumps(body).encode(), method)
        yield made


def mutated(taker: Taker, chance: random.Random) -> bytes:
    """A good body with something else somewhere, as a document or as bytes."""
    body = chance.choice(taker.bodies)
    if taker.is_json and chance.random() < 0.6:
        return json.dumps(mutate(chance, json.loads(body))).encode()
    for _ in range(chance.randint(1, 3)):
        at, length = chance.randrange(len(body) + 1), chance.randrange(12)
        other = chance.choice((b"", body[at : at + 40], *WORDS))
        body = body[:at] + other + body[at + length :]
    return body


def cell(name: str, chance: random.Random) -> Any:
    """A good one for this name mostly."""
    return GOOD[name] if name in GOOD and chance.random() < 0.9 else chance.choice(CELLS)


def csv_by_chance(chance: random.Random) -> bytes:
    """Rows that keep to the grammar of CSV mostly, with a header that is mostly right."""
    names = chance.choices(NAMES, k=4) if chance.random() < 0.2 else [*NAMES[:3], *NAMES[3 : 3 + chance.randrange(4)]]
    rows = [[str(cell(name, chance)) for name in names] for _ in range(chance.randrange(5))]
    lines = [names, *(row[chance.random() < 0.05 :] for row in rows)]
    return "".join(",".join(line) + chance.choice(ENDS) for line in lines).encode()


def ndjson_by_chance(chance: random.Random) -> bytes:
    """Objects that keep to the grammar of JSON mostly, a line each."""
    lines = []
    for _ in range(chance.randrange(5)):
        names = [*NAMES[:3], *chance.sample(NAMES, chance.randrange(3))]
        row = {name: cell(name, chance) for name in names if chance.random() < 0.95}
        lines.append(json.dumps(row, ensure_ascii=chance.random() < 0.5) + chance.choice(ENDS))
    return "".join(lines).encode()


async def both(service: Within, taker: Taker, body: bytes) -> tuple[int, int]:
    """The statuses of a body and of a check that another sends meanwhile."""
    (status, _), (checked, _) = await asyncio.gather(
        service.answered(taker.path, body, taker.method, taker.media_type), service.answered("/v1/checks", CHECK)
    )
    return status, checked


def test_mutated_bodies_are_answered_on_every_operation(service: Within) -> None:
    """Whatever of the contract a client gets wrong, it is told so; the station beside it goes on, and memory is flat."""
    chance, held, statuses = random.Random(11), list[float](), set[int]()
    # The revision that checks go by is not to be withdrawn by chance.
    taking = [each for each in takers() if each.operation != "withdrawRevision"]
    for number in range(BODIES):
        for taker in taking:
            body = mutated(taker, chance)
            if number % BETWEEN_CHECKS:
                status = service.status_of(taker.path, body, taker.method, taker.media_type)
            else:
                status, checked = service.run(both(service, taker, body))
                assert 200 == checked
            assert status < 500, (taker, body)
            statuses.add(status)
        if number % (BODIES // 10) == BODIES // 10 - 1:
            held.append(mebibytes(os.getpid()))
    print("MiB:", *(f"{each:.1f}" for each in held))  # noqa: T201  shown by -s, for the report of the long form

    assert {200, 201, 400, 404, 409, 422, 428} <= statuses
    assert MOST_GROWTH_MIB > held[-1] - held[0]


def test_mutated_withdrawals_are_answered(tmp_path: Path) -> None:
    """The one that would end all checks has a service of its own."""
    chance = random.Random(12)
    taker = next(each for each in takers() if each.operation == "withdrawRevision")
    with within(tmp_path) as made:
        statuses = {made.status_of(taker.path, mutated(taker, chance), taker.method) for _ in range(BODIES)}

    assert {200, 400, 409, 422} >= statuses


@pytest.mark.parametrize(("media_type", "made"), [("text/csv", csv_by_chance), ("application/x-ndjson", ndjson_by_chance)])
def test_rows_by_chance_are_answered(tmp_path: Path, media_type: str, made: Callable[[random.Random], bytes]) -> None:
    """Files come from many programs; each is kept or told what is wrong with it, and what is kept can be read."""
    chance, statuses = random.Random(13), set[int]()
    with within(tmp_path) as service:
        assert 201 == service.status_of(LOT, json.dumps(examples.OPENING).encode(), "PUT")
        for number in range(ROWS):
            body = made(chance)
            status = service.status_of(f"{LOT}/readings?batch=B{number}", body, media_type=media_type)
            assert status in (201, 422), (body, status)
            statuses.add(status)
        assert 200 == service.status_of(f"{LOT}/evidence", b"", "GET")

    assert {201, 422} == statuses
