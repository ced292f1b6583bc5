"""Requests that are nearly right, over a real connection: each is told what is wrong with it, and none is a fault of ours."""

import random
import string
from pathlib import Path

from tests.faults.bodies import Sent, shown
from tests.faults.talking import Heard, HungUpError, Line, request
from tests.support import examples
from tests.support.services import ask, released, service_in
from tests.support.sizes import of_two

REQUESTS = of_two(1_000, 10_000)
METHODS = ("POST", "POST", "POST", "PUT", "GET", "DELETE", "OPTIONS", "HEADS")
IN_A_PATH = string.ascii_letters + string.digits + "/%._-~:@!$&'()*+,;="
WORDS = (
    b"null",
    b"-0",
    b"1e999",
    b"1e-400",
    b"NaN",
    b'"\\ud800"',
    b"[[[[",
    b"{}",
    b"true",
    b'"\\u0000"',
    b"9" * 400,
    b"\xff\xfe",
)


def mutated(sent: Sent, chance: random.Random) -> bytes:
    """A request of the contract with something else somewhere: in its body, its path, its method or its headers."""
    method, path, body = "POST", sent.path, sent.body
    headers = {}
    for _ in range(chance.randint(1, 3)):
        at, length = chance.randrange(len(body) + 1), chance.randrange(12)
        match chance.randrange(7):
            case 0 | 1:
                body = body[:at] + chance.choice(WORDS) + body[at + length :]
            case 2:
                body = body[:at] + body[at + length :]
            case 3:
                body = body[:at] + body[at : at + 40] + body[at:]
            case 4:
                place = chance.randrange(1, len(path) + 1)
                path = path[:place] + "".join(chance.choices(IN_A_PATH, k=3)) + path[place:]
            case 5:
                method = chance.choice(METHODS)
            case _:
                name = chance.choice(("Accept", "Content-Encoding", "If-Match", "Authorization", "X-Any", "Traceparent"))
                headers[name] = "".join(chance.choices(string.printable[:95], k=chance.randrange(1, 40))).strip()
    return request(method, path, body, headers)


def answer_to(address: str, content: bytes, line: Line) -> tuple[Heard | None, Line]:
    """The answer, None where the server cut the connection without one, and a line to go on by."""
    try:
        heard = line.ask(content)
    except HungUpError:
        line.close()
        return None, Line(address)
    # What refuses an unknown method or a body says so by ending the connection.
    if heard.headers.get("connection") == "close" or content.startswith((b"HEADS", b"OPTIONS", b"GET", b"DELETE")):
        line.close()
        line = Line(address)
    return heard, line


def test_mutated_requests_are_answered_and_the_service_goes_on(tmp_path: Path) -> None:
    """Ten thousand of them find no 5xx, and the station beside them gets its check after each hundred."""
    chance, requests = random.Random(7), shown()
    with service_in(tmp_path) as address:
        released(address, examples.GRADE, examples.SPECIFICATION)
        line, statuses, cut = Line(address), set[int](), 0
        for number in range(REQUESTS):
            content = mutated(chance.choice(requests), chance)
            heard, line = answer_to(address, content, line)
            cut += heard is None
            if heard is not None:
                assert heard.status < 500, (content, heard)
                statuses.add(heard.status)
            if number % 100 == 0:
                assert ask(address, "POST", "/v1/checks", examples.CHECK).status == 200
        line.close()
        assert {"ready": True, "reasons": []} == ask(address, "GET", "/health/ready").document

    assert {200, 400, 404, 405, 415, 422} <= statuses
    assert cut < REQUESTS // 10
