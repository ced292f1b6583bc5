"""A connection that stays open and on which one request after the other is answered, at little cost to whoever measures."""

import json
import socket
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any, NamedTuple
from urllib.parse import urlsplit

from tests.support.servers import SECONDS_TO_END


class Heard(NamedTuple):
    """An answer: status, headers with names in small letters, bytes."""

    status: int
    headers: Mapping[str, str]
    body: bytes

    @property
    def document(self) -> Any:
        """Its JSON."""
        return json.loads(self.body)


class HungUpError(Exception):
    """The other side ended the connection before an answer was whole."""


def request(method: str, path: str, body: bytes | None = None, headers: Mapping[str, str] | None = None) -> bytes:
    """The bytes of a request; a body goes as JSON."""
    lines = [f"{method} {path} HTTP/1.1", "Host: 127.0.0.1", *(f"{name}: {text}" for name, text in (headers or {}).items())]
    if body is not None:
        lines += ["Content-Type: application/json", f"Content-Length: {len(body)}"]
    return "\r\n".join([*lines, "", ""]).encode() + (body or b"")


class Line:
    """One connection to a server."""

    def __init__(self, address: str) -> None:
        """Connect to `http://HOST:PORT`."""
        parts = urlsplit(address)
        self.socket = socket.create_connection((parts.hostname, parts.port), timeout=SECONDS_TO_END)
        self._heard = self.socket.makefile("rb")

    def ask(self, content: bytes) -> Heard:
        """The answer to a request that is sent as it stands. Raises HungUpError where none comes."""
        try:
            self.socket.sendall(content)
            return self.hear()
        except (BrokenPipeError, ConnectionResetError) as error:
            raise HungUpError from error

    def hear(self) -> Heard:
        """The next answer."""
        first = self._heard.readline().split()
        if not first:
            raise HungUpError
        headers: dict[str, str] = {}
        while (line := self._heard.readline().strip()) != b"":
            name, _, text = line.decode("latin-1").partition(":")
            headers[name.lower()] = text.strip()
        return Heard(int(first[1]), headers, self._heard.read(int(headers.get("content-length", 0))))

    def close(self) -> None:
        """Hang up."""
        self._heard.close()
        self.socket.close()


@contextmanager
def line_to(address: str) -> Iterator[Line]:
    """A connection, ended at the end."""
    line = Line(address)
    try:
        yield line
    finally:
        line.close()


def told_to_come_again(heard: Heard) -> bool:
    """Whether an answer is the refusal that a client may simply repeat: 503, problem details, and when."""
    is_problem = heard.headers.get("content-type") == "application/problem+json"
    return (
        heard.status == 503 and is_problem and int(heard.headers.get("retry-after", 0)) > 0 and heard.document["status"] == 503
    )
