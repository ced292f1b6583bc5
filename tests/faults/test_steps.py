"""Reading a body takes steps in proportion to its length, whatever is in it: counted, not timed."""

import json
from collections.abc import Callable, Iterator

import pytest

from tests.faults.bodies import Within, within
from tests.support.hostile import CSV, MADE, NDJSON, TEXTS
from tests.support.steps import Steps
from tests.support.takers import BEFORE, Taker, takers

BYTES = 24 * 1024
SELDOM = 3600
MOST = 2.2
"""So many times the steps a body of twice the length may take."""
JSON_TAKERS = [each for each in takers() if each.is_json and each.operation != "revokeKey"]
ROW_TAKERS = [each for each in takers() if not each.is_json]


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Within]:
    """One within this process, with all that the bodies are about."""
    # What the service does now and then by itself would be counted with the body that is read just then.
    with within(tmp_path_factory.mktemp("within"), poll_every=SELDOM) as made:
        for method, path, body in BEFORE[2:]:
            assert 201 == made.status_of(path, json.dumps(body).encode(), method)
        yield made


def steps_of(service: Within, taker: Taker, body: bytes) -> int:
    """How many it takes to answer; a body that is refused the second time as the first leaves nothing."""
    steps = Steps()
    status, _ = service.run(steps.of(service.answered(taker.path, body, taker.method, taker.media_type)))
    assert status in (200, 201, 400, 409, 422, 428), (taker, status)
    return steps.total


def holds(service: Within, taker: Taker, made: Callable[[int], bytes]) -> None:
    """Whether twice the length takes at most 2.2 times the steps, once what is made at the first time is there."""
    once, twice = made(BYTES), made(2 * BYTES)
    steps_of(service, taker, made(BYTES // 2))
    fewer, more = steps_of(service, taker, once), steps_of(service, taker, twice)

    assert 1.7 < len(twice) / len(once) < 2.3
    assert more <= MOST * fewer, (taker.operation, len(once), fewer, more)


@pytest.mark.parametrize(
    ("taker", "name"),
    [
        pytest.param(taker, name, id=f"{taker.operation}-{name}")
        for taker in JSON_TAKERS
        for name in MADE
        if b"[" in taker.bodies[0] or name in ("with_members", "with_deep_keys")
    ],
)
def test_a_document_twice_as_long_takes_at_most_twice_the_steps(service: Within, taker: Taker, name: str) -> None:
    """A small body that takes seconds to refuse stops every station, and the orchestrator ends the service."""
    good = json.loads(taker.bodies[0])
    holds(service, taker, lambda number: json.dumps(MADE[name](good, number)).encode())


@pytest.mark.parametrize("name", TEXTS)
def test_bytes_twice_as_many_take_at_most_twice_the_steps(service: Within, name: str) -> None:
    """However they are written; each document is read by the same grammar."""
    taker = next(each for each in JSON_TAKERS if each.operation == "judgeLot")
    holds(service, taker, lambda number: TEXTS[name](taker.bodies[0], number))


@pytest.mark.parametrize(
    ("media_type", "name"),
    [*(("text/csv", each) for each in CSV), *(("application/x-ndjson", each) for each in NDJSON)],
)
def test_rows_twice_as_many_take_at_most_twice_the_steps(service: Within, media_type: str, name: str) -> None:
    """A file that was exported wrongly is told so, and stops nobody."""
    taker = next(each for each in ROW_TAKERS if each.media_type == media_type)
    holds(service, taker, {"text/csv": CSV, "application/x-ndjson": NDJSON}[media_type][name])


def test_a_query_twice_as_long_takes_at_most_twice_the_steps(service: Within) -> None:
    """Names in a query are guessed too."""
    taker = next(each for each in ROW_TAKERS if each.media_type == "text/csv")
    queries = ["&".join(f"batc{each}=1" for each in range(number)) for number in (20, 40, 80)]
    steps = [steps_of(service, taker._replace(path=f"{taker.path}&{query}"), b"x") for query in queries]

    assert steps[2] <= MOST * steps[1]
