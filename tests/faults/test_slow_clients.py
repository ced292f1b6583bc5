"""Clients that dawdle, hang or are gone: others are answered all the while, and nothing of them is left."""

from collections.abc import Iterator, Sequence
from contextlib import ExitStack, suppress
from pathlib import Path

import pytest

from tests.faults.invented import CHECK, GRADE
from tests.faults.talking import Line, line_to, told_to_come_again
from tests.support.commands import SPECIFICATION
from tests.support.servers import Server, serving
from tests.support.services import released
from tests.support.sizes import of_two

CLIENTS = of_two(100, 400)
CHECKS = of_two(1_000, 50_000)
WITHOUT_END = b"POST /v1/checks HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Slow: "
WITHOUT_BODY = (
    b"POST /v1/verdicts HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\nContent-Length: 1000\r\n\r\n{"
)
MOST_LOOKS = 100_000


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    """One that gives a body half a second."""
    with serving(tmp_path, BODY_TIMEOUT="0.5") as made:
        released(address(made), GRADE, SPECIFICATION)
        yield made


def address(server: Server) -> str:
    """Where it answers."""
    return f"http://127.0.0.1:{server.port}"


def open_files(server: Server) -> int:
    """How many files and connections its process holds."""
    return sum(1 for _ in Path(f"/proc/{server.process.pid}/fd").iterdir())


def check_while(line: Line, slow: Sequence[Line], sent: bytes) -> None:
    """Check reading after reading; before each, one of the slow clients sends a little more."""
    for number in range(CHECKS):
        if slow and sent:
            # It may have been hung up on by now.
            with suppress(OSError):
                slow[number % len(slow)].socket.sendall(sent)
        assert 200 == line.ask(CHECK).status


def settle(line: Line) -> None:
    """Until a check is answered: whole checks of hundreds of clients in one moment are more than are answered at a time."""
    looks = 0
    while told_to_come_again(line.ask(CHECK)) and looks < MOST_LOOKS:
        looks += 1


@pytest.mark.parametrize(
    ("begun", "then"),
    [(b"", b""), (b"POST /v1/ch", b""), (WITHOUT_END, b"x"), (WITHOUT_BODY, b""), (WITHOUT_BODY, b" "), (CHECK, CHECK)],
    ids=["say nothing", "stop in the head", "dawdle in the head", "stop in the body", "dawdle in the body", "never listen"],
)
def test_checks_go_on_beside_clients_that(server: Server, begun: bytes, then: bytes) -> None:
    """One broken station, or somebody who means harm, must not stop the line."""
    with line_to(address(server)) as line, ExitStack() as stack:
        assert 200 == line.ask(CHECK).status
        before = open_files(server)
        slow = [stack.enter_context(line_to(address(server))) for _ in range(CLIENTS)]
        for each in slow:
            each.socket.settimeout(0.01)
            each.socket.sendall(begun)
        settle(line)
        check_while(line, slow, then)
        stack.close()
        looks = 0
        while open_files(server) > before + 1 and looks < MOST_LOOKS:
            looks += 1
            assert 200 == line.ask(CHECK).status

        assert before + 1 >= open_files(server)
