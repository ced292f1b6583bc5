"""What a server hands over: bodies in parts or broken off, fields that can't be read, the life span."""

import asyncio
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from service.api.application import Application
from service.app import create_app
from service.ports.catalogue import CatalogueAwayError
from service.settings import Settings
from tests.faults.talking import line_to, request
from tests.support import examples
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


def test_what_stands_behind_a_body_is_not_looked_at(address: str) -> None:
    """Trailers (RFC 9112, 7.1.2) may be dropped; the body is whole without them."""
    with line_to(address) as line:
        heard = line.ask(chunked("/v1/checks", [CHECK], end=b"0\r\nx-sum: 1\r\n\r\n"))

    assert (200, "pass") == (heard.status, heard.document["outcome"])


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


async def lived(application: Application, said: list[Any]) -> None:
    """A life span as a server asks for it."""
    wanted = iter(["lifespan.startup", "lifespan.shutdown"])

    async def receive() -> Any:
        return {"type": next(wanted)}

    async def send(message: Any) -> None:
        said.append(message)

    await application({"type": "lifespan"}, receive, send)


async def test_other_servers_begin_and_end_it_by_the_life_span(tmp_path: Path) -> None:
    """ASGI's lifespan protocol, 2.0: uvicorn and others serve the application too."""
    said: list[Any] = []
    await lived(create_app(Settings(database_url=f"sqlite:///{tmp_path}/grades.db")), said)

    assert ["lifespan.startup.complete", "lifespan.shutdown.complete"] == [each["type"] for each in said]


async def test_a_server_is_told_why_it_can_not_begin(tmp_path: Path) -> None:
    """It logs the message and ends."""
    (tmp_path / "grades.db").write_text("no database at all, and long enough to be read as one" * 9)
    said: list[Any] = []
    with pytest.raises(CatalogueAwayError):
        await lived(create_app(Settings(database_url=f"sqlite:///{tmp_path}/grades.db")), said)

    assert ["lifespan.startup.failed"] == [each["type"] for each in said]
    assert "CatalogueAwayError" in said[0]["message"]


async def test_a_socket_of_the_web_is_closed(application: Application) -> None:
    """There is none here, and a server that offers one must not be left hanging."""
    said: list[Any] = []

    async def send(message: Any) -> None:
        said.append(message)

    await application({"type": "websocket"}, asyncio.Future, send)

    assert ["websocket.close"] == [each["type"] for each in said]
