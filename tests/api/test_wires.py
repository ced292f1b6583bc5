"""What a server hands over, by either protocol: bodies in parts or broken off, fields that can't be read, the life span."""

import asyncio
import json
import socket
import time
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest

from service.api import examples
from service.api.frame import Frame
from service.api.wires.asgi import Message, live
from service.api.wires.backlog import unsent
from service.app import create_app
from service.settings import Settings
from tests.faults.talking import line_to, request
from tests.support.services import ask, released, service_in

CHECK = json.dumps(examples.CHECK).encode()
ROWS = b'{"characteristic": "breaking_force", "unit": "N", "value": 1432.5}\n' * 3


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A server in a process of its own, with the example's grade released and a lot open."""
    with service_in(tmp_path_factory.mktemp("wires")) as made:
        released(made, examples.GRADE, examples.SPECIFICATION)
        assert 201 == ask(made, "PUT", "/v1/lots/L-1", {"grade": examples.GRADE}).status
        yield made


def chunked(path: str, parts: list[bytes], media_type: str = "application/json", end: bytes = b"0\r\n\r\n") -> bytes:
    """A request that does not say how long its body is."""
    head = f"POST {path} HTTP/1.1\r\nhost: 127.0.0.1\r\ncontent-type: {media_type}\r\ntransfer-encoding: chunked\r\n\r\n"
    return head.encode() + b"".join(b"%x\r\n%b\r\n" % (len(part), part) for part in parts) + end


@pytest.mark.parametrize("parts", [[CHECK], [CHECK[:1], CHECK[1:9], CHECK[9:]]])
def test_a_body_in_parts_is_put_together(address: str, parts: list[bytes]) -> None:
    """Many clients send so what they make as they go."""
    with line_to(address) as line:
        for _ in range(2):
            heard = line.ask(chunked("/v1/checks", parts))

            assert (200, "pass") == (heard.status, heard.document["outcome"])


def test_a_body_with_trailers_is_refused_with_a_sentence(address: str) -> None:
    """It looks like one that broke off, and nobody needs it."""
    with line_to(address) as line:
        heard = line.ask(chunked("/v1/checks", [CHECK], end=b"0\r\nx-sum: 1\r\n\r\n"))

    assert (400, "/problems/not-json") == (heard.status, heard.document["type"])
    assert "trailers" in heard.document["detail"]


@pytest.mark.parametrize(
    "sent",
    [
        chunked("/v1/lots/L-1/readings?batch=cut", [ROWS], "application/x-ndjson", end=b""),
        chunked("/v1/lots/L-1/readings?batch=cut", [ROWS], "application/x-ndjson", end=b"43\r\n{"),
        b"POST /v1/lots/L-1/readings?batch=cut HTTP/1.1\r\nhost: 127.0.0.1\r\ncontent-type: application/x-ndjson\r\n"
        b"content-length: %d\r\n\r\n%b" % (2 * len(ROWS), ROWS),
    ],
)
def test_of_rows_that_break_off_none_is_kept(address: str, sent: bytes) -> None:
    """Whole lines came, and more were to come: a batch that is short would pass for the whole one."""
    with line_to(address) as line:
        line.socket.sendall(sent)
    with line_to(address) as line:
        whole = line.ask(chunked("/v1/lots/L-1/readings?batch=whole", [ROWS], "application/x-ndjson"))

    assert whole.status in (200, 201)
    assert 404 == ask(address, "GET", "/v1/lots/L-1/batches/cut").status


def test_a_condition_that_cannot_be_read_is_not_met(address: str) -> None:
    """Left out of sight it would be as if there were none, and the release went ahead."""
    path = f"/v1/grades/{examples.GRADE}/revisions"
    number = ask(address, "POST", path, examples.SPECIFICATION).document["revision"]
    head = (
        f"POST {path}/{number}/release HTTP/1.1\r\nhost: 127.0.0.1\r\ncontent-type: application/json\r\ncontent-length: 2\r\n"
    )
    with line_to(address) as line:
        heard = line.ask(head.encode() + 'if-match: "ü"\r\n\r\n{}'.encode())

    assert 412 == heard.status


def test_head_tells_the_length_of_get(address: str) -> None:
    """RFC 9110, 9.3.2; and the next answer on the connection is not taken for its body."""
    with line_to(address) as line:
        length = len(line.ask(request("GET", "/v1/units")).body)
        line.socket.sendall(request("HEAD", "/v1/units"))
        with line.socket.makefile("rb", buffering=0) as lines:
            head = b"".join(iter(lines.readline, b"\r\n"))

        assert b"content-length: %d\r\n" % length in head.lower()
        assert 200 == line.ask(request("GET", "/health/live")).status


@pytest.mark.parametrize(("family", "host"), [(socket.AF_INET, "127.0.0.1"), (socket.AF_INET6, "::1")])
def test_what_a_caller_has_not_taken_is_known(family: socket.AddressFamily, host: str) -> None:
    """So that what he does not take is not made."""
    with socket.create_server((host, 0), family=family) as server, socket.socket(family) as caller:
        caller.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        caller.connect(server.getsockname()[:2])
        ours, _ = server.accept()
        own, (address, port) = server.getsockname()[1], caller.getsockname()[:2]
        peer = f"[{address}]:{port}" if family is socket.AF_INET6 else f"{address}:{port}"
        with ours:
            ours.settimeout(0)
            sent = ours.send(b"x" * 1_000_000)

            assert 0 < unsent(peer, own) <= sent
            taken = 0
            while taken < sent:
                taken += len(caller.recv(65536))
            # The other side may acknowledge it a moment later.
            ends = time.monotonic() + 5
            while unsent(peer, own) and time.monotonic() < ends:
                time.sleep(0.01)
            assert 0 == unsent(peer, own)

    assert 0 == unsent("192.0.2.1:9", own)


@asynccontextmanager
async def nothing_works() -> AsyncIterator[None]:
    """A life that does not begin."""
    raise OSError("no database")
    yield


async def lived(application: Frame | None, said: list[Message]) -> None:
    """A life span as a server asks for it."""
    wanted = iter(["lifespan.startup", "lifespan.shutdown"])

    async def receive() -> Message:
        return {"type": next(wanted)}

    async def send(message: Message) -> None:
        said.append(message)

    if application:
        await application({"type": "lifespan"}, receive, send)
    else:
        await live(nothing_works, receive, send)


async def test_other_servers_begin_and_end_it_by_the_life_span(tmp_path: Path) -> None:
    """ASGI's lifespan protocol, 2.0: uvicorn and others serve the application too."""
    said: list[Message] = []
    await lived(create_app(Settings(database_url=f"sqlite:///{tmp_path}/grades.db")), said)

    assert ["lifespan.startup.complete", "lifespan.shutdown.complete"] == [each["type"] for each in said]


async def test_a_server_is_told_why_it_can_not_begin() -> None:
    """It logs the message and ends."""
    said: list[Message] = []
    with pytest.raises(OSError, match="no database"):
        await lived(None, said)

    assert [{"type": "lifespan.startup.failed", "message": "no database"}] == said


async def test_a_socket_of_the_web_is_closed(application: Frame) -> None:
    """There is none here, and a server that offers one must not be left hanging."""
    said: list[Message] = []

    async def send(message: Message) -> None:
        said.append(message)

    await application({"type": "websocket"}, asyncio.Future, send)

    assert [{"type": "websocket.close"}] == said
