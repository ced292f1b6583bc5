"""More requests at a time than a service takes: checks go first, and who must wait is told for how long."""

import asyncio
import json
import select
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest

from service.api.access.gate import LARGE_BODY, MOST_LARGE_BYTES, Gate
from service.api.exchanges import begin_exchange as exchange_begun
from service.api.problems import RefusalError
from tests.faults.invented import CHECK, GRADE
from tests.faults.talking import Heard, Line, line_to, request, told_to_come_again
from tests.support.commands import SPECIFICATION, forces
from tests.support.services import ask, released, service_in

MOST, OF_BULK = 8, 6
VERDICT = request("POST", "/v1/verdicts", b"{}")
HALF_A_CHECK, HALF_A_VERDICT = CHECK[:-1], VERDICT[:-1]
UNITS, HEALTH, METRICS = (request("GET", path) for path in ("/v1/units", "/health/live", "/metrics"))
MOST_LOOKS = 10_000
READINGS = 20_000
SECONDS_BEFORE_THEY_END_ANYWAY = 15


@pytest.fixture
def address(tmp_path: Path) -> Iterator[str]:
    """A service that takes eight requests at a time, so six of bulk work."""
    with service_in(tmp_path, MOST_IN_FLIGHT=str(MOST)) as made:
        released(made, GRADE, SPECIFICATION)
        yield made


def in_flight(line: Line) -> int:
    """How many requests the service says that it has in flight, this one not counted."""
    lines = line.ask(METRICS).body.decode().splitlines()
    return int(float(next(each.split()[-1] for each in lines if each.startswith("markeryarn_in_flight")))) - 1


def begin_exchange(stack: ExitStack, address: str, half: bytes, number: int) -> list[Line]:
    """So many requests that have been begun and wait for the rest of their bodies."""
    with line_to(address) as watching:
        before = in_flight(watching)
        lines = [stack.enter_context(line_to(address)) for _ in range(number)]
        for line in lines:
            line.socket.sendall(half)
        looks = 0
        while in_flight(watching) < before + number and looks < MOST_LOOKS:
            looks += 1
        assert before + number == in_flight(watching)
    return lines


def ready(line: Line) -> bool:
    """Whether something has come that has not been read."""
    return bool(select.select([line.socket], [], [], 0)[0])


def is_too_busy(heard: Heard) -> bool:
    """Whether the answer is the refusal of one request too many."""
    return told_to_come_again(heard) and heard.document["type"] == "/problems/too-busy"


def test_one_check_too_many_is_told_when_to_come_again(address: str) -> None:
    """A station shows amber for a second; a service that takes all answers nobody."""
    with ExitStack() as stack, line_to(address) as line:
        waiting = begin_exchange(stack, address, HALF_A_CHECK, MOST)

        assert is_too_busy(line.ask(CHECK))
        assert [200] * MOST == [each.ask(CHECK[-1:]).status for each in waiting]

    assert 200 == ask(address, "GET", "/v1/units").status


def test_bodies_that_never_come_give_way_to_checks(tmp_path: Path) -> None:
    """A broken station that begins check after check must not hold the places of the others for as long as a body may take."""
    with (
        service_in(tmp_path, MOST_IN_FLIGHT=str(MOST), BODY_TIMEOUT="20") as made,
        ExitStack() as stack,
        line_to(made) as line,
    ):
        released(made, GRADE, SPECIFICATION)
        waiting = begin_exchange(stack, made, HALF_A_CHECK, MOST)
        tries = 0
        while not select.select([waiting[0].socket], [], [], 1)[0] and tries < SECONDS_BEFORE_THEY_END_ANYWAY:
            tries += 1
            line.ask(CHECK)

        assert tries < SECONDS_BEFORE_THEY_END_ANYWAY
        assert 408 == waiting[0].hear().status
        assert 200 == line.ask(CHECK).status


def test_bulk_work_leaves_room_for_checks(address: str) -> None:
    """However many lots are sent in at a time, the line goes on."""
    with ExitStack() as stack, line_to(address) as line, line_to(address) as other:
        begin_exchange(stack, address, HALF_A_VERDICT, OF_BULK)

        assert is_too_busy(line.ask(VERDICT))
        assert is_too_busy(other.ask(UNITS))
        with line_to(address) as checking:
            assert 200 == checking.ask(CHECK).status


def test_a_full_service_still_tells_how_it_is(address: str) -> None:
    """A watcher that is refused would have a busy service restarted, which makes it no less busy."""
    with ExitStack() as stack, line_to(address) as line:
        begin_exchange(stack, address, HALF_A_CHECK, MOST)

        assert 200 == line.ask(HEALTH).status
        assert 200 == line.ask(METRICS).status


def test_checks_are_answered_between_long_lots(address: str) -> None:
    """Lots that come all at once are judged one after the other, and each lets the checks go first that have come meanwhile."""
    lot = json.dumps({"against": {"grade": GRADE}, "evidence": forces(*[1432.5] * READINGS)}).encode()
    checks = 0
    with ExitStack() as stack, line_to(address) as checking:
        lines = begin_exchange(stack, address, request("POST", "/v1/verdicts", lot)[:-1], OF_BULK)
        for line in lines:
            line.socket.sendall(lot[-1:])
        while not all(ready(line) for line in lines):
            assert 200 == checking.ask(CHECK).status
            checks += 1

        assert {200} == {line.hear().status for line in lines}
    assert checks


async def test_a_check_that_comes_during_a_long_lot_is_answered_before_the_next() -> None:
    """One lot is waited for at most, not all that are there."""
    gate, order = Gate(MOST), list[str]()

    async def lot(name: str) -> None:
        await gate.begin_long()
        order.append(name)
        await asyncio.sleep(0)
        gate.end_long()

    async def check() -> None:
        order.append("check")

    await asyncio.gather(lot("one"), lot("two"), lot("three"), check())

    assert ["one", "check", "two", "three"] == order


async def test_a_lot_whose_caller_hangs_up_gives_its_turn_away() -> None:
    """Nobody waits for who is gone."""
    gate = Gate(MOST)
    await gate.begin_long()
    waiting = asyncio.ensure_future(gate.begin_long())
    await asyncio.sleep(0)
    waiting.cancel()
    await asyncio.gather(waiting, return_exceptions=True)
    gate.end_long()
    gate.end_long()
    async with asyncio.timeout(5):
        await gate.begin_long()
        await gate.begin_long()


def large(size: int, shorter: int = 1) -> bytes:
    """The beginning of a request whose body has so many bytes: all but the last of it, or less."""
    head = f"POST /v1/verdicts HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\nContent-Length: {size}\r\n\r\n"
    return head.encode() + b" " * (size - shorter)


def test_large_bodies_have_room_for_so_many_bytes_together(address: str) -> None:
    """Sixteen of them at a time would take the memory of the machine; who must wait is told so, and smaller ones go on."""
    with ExitStack() as stack, line_to(address) as refused, line_to(address) as small, line_to(address) as later:
        lines = [stack.enter_context(line_to(address)) for _ in range(2)]
        for line in lines:
            line.socket.sendall(large(15 * LARGE_BODY))
        heard = refused.ask(large(3 * LARGE_BODY, 0))

        assert is_too_busy(heard)
        assert "large bodies" in heard.document["detail"]
        assert 200 == small.ask(CHECK).status
        assert 400 == small.ask(large(LARGE_BODY, 0)).status
        assert [400, 400] == [line.ask(b" ").status for line in lines]
        assert 400 == later.ask(large(3 * LARGE_BODY, 0)).status


def test_a_large_body_that_does_not_say_its_size_is_admitted_as_it_grows(address: str) -> None:
    """A chunked one is not let in by another door."""
    head = (
        b"POST /v1/verdicts HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\nTransfer-Encoding: chunked\r\n\r\n"
    )
    chunk = b"%x\r\n%b\r\n" % (LARGE_BODY, b" " * LARGE_BODY)
    with ExitStack() as stack, line_to(address) as chunked:
        lines = [stack.enter_context(line_to(address)) for _ in range(2)]
        for line in lines:
            line.socket.sendall(large(15 * LARGE_BODY))

        assert is_too_busy(chunked.ask(head + chunk * 4 + b"0\r\n\r\n"))


def test_a_body_by_itself_may_be_larger_than_all_together() -> None:
    """Where bodies may be larger by a setting, one of them is taken at a time; nothing of it stays counted."""
    gate, one, other = Gate(MOST), exchange_begun("POST"), exchange_begun("POST")
    gate.admit(one, 2 * MOST_LARGE_BYTES)
    with pytest.raises(RefusalError):
        gate.admit(other, LARGE_BODY + 1)
    gate.leave(one)
    gate.admit(other, 2 * MOST_LARGE_BYTES)

    assert (0, 2 * MOST_LARGE_BYTES) == (one.admitted_bytes, other.admitted_bytes)
