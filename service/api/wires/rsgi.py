"""RSGI 1.5, granian's own protocol: a request costs some two thirds of what it does by ASGI."""

import asyncio
from collections.abc import AsyncIterator
from typing import Protocol

from service.api.wires import CutOffError, Fields, Gone, WholeHead
from service.api.wires.backlog import unsent

OLD = "1"
"""What granian calls HTTP/1.0."""
MOST_UNTAKEN = 64 * 1024
"""Bytes of an answer in parts that are on their way at a time, and as many again before the next look."""
SECONDS_BETWEEN_LOOKS = 0.02


class Scope(Protocol):
    """What granian tells of a request; each look at it makes a new object."""

    method: str
    path: str
    query_string: str
    http_version: str
    headers: Fields
    client: str
    """`ADDRESS:PORT`"""
    server: str


class Parts(Protocol):
    """An answer on its way."""

    async def send_bytes(self, data: bytes, /) -> None:
        """Hand a part over; it is taken at once, however slowly the caller reads."""


class Transport(Protocol):
    """The body of a request, by a call or in parts, and the way back."""

    async def __call__(self) -> bytes:
        """The whole body."""

    def __aiter__(self) -> AsyncIterator[bytes]:
        """Its parts."""

    async def client_disconnect(self) -> None:
        """Return when the caller has hung up."""

    def response_bytes(self, status: int, headers: list[tuple[str, str]], body: bytes, /) -> None:
        """Answer."""

    def response_stream(self, status: int, headers: list[tuple[str, str]], /) -> Parts:
        """Begin to answer."""


class RsgiWire:
    """A request by RSGI."""

    __slots__ = ("_coming", "_is_taken", "_parts", "_scope", "_transport", "_untold", "headers", "method", "path", "query")

    def __init__(self, scope: Scope, transport: Transport) -> None:
        """Of this scope."""
        self.method = scope.method
        self.path = scope.path
        self.query = scope.query_string
        self.headers = scope.headers
        self._scope, self._transport = scope, transport
        self._coming: AsyncIterator[bytes] | None = None
        self._is_taken = False
        self._parts: Parts | None = None
        self._untold = 0
        """Bytes that were sent since the last look at how much was taken."""

    @property
    def is_old(self) -> bool:
        """True of HTTP/1.0."""
        return self._scope.http_version == OLD

    @property
    def _own_port(self) -> int:
        return int(self._scope.server.rpartition(":")[2])

    async def body(self, most: int) -> bytes:
        """The whole body; where it does not say how long it is, as many parts as are too much. Raises Gone, CutOffError."""
        if "transfer-encoding" in self.headers:
            return await self._joined(most)
        self._is_taken = True
        try:
            return await self._transport()
        except RuntimeError as error:
            # Granian's own errors are such, and importing them would bind every server to it.
            raise Gone from error

    async def _joined(self, most: int) -> bytes:
        """The parts of a chunked body, or as many as are too much."""
        # Granian lets nobody begin anew, as `async for` would: what is poured away afterwards comes from here too.
        coming = self._coming = aiter(self._transport)
        parts, total = list[bytes](), 0
        while total <= most and (part := await anext(coming)):
            parts.append(part)
            total += len(part)
        if total <= most:
            await self._check_whole(coming)
        return b"".join(parts)

    @staticmethod
    async def _check_whole(coming: AsyncIterator[bytes]) -> None:
        """Raise CutOffError where an empty part does not end a body: it broke off, or has trailers; which, is not said."""
        try:
            await anext(coming)
        except StopAsyncIteration:
            return
        raise CutOffError

    async def pour_away(self, most: int) -> None:
        """Take and forget what still comes."""
        if self._is_taken:
            return
        coming, poured = self._coming or aiter(self._transport), 0
        while poured < most and (part := await anext(coming)):
            poured += len(part)

    async def send(self, status: int, head: WholeHead, body: bytes) -> None:
        """Hand the answer over."""
        self._transport.response_bytes(status, [*head.shared.texts, *head.own], body)

    async def begin(self, status: int, head: WholeHead) -> None:
        """All but the body."""
        self._parts = self._transport.response_stream(status, [*head.shared.texts, *head.own])

    async def send_part(self, part: bytes) -> None:
        """Hand a part over, and wait now and then until the caller has taken what came before; let go of the stream at last."""
        if not part:
            self._parts = None
            return
        if self._parts is None:
            raise RuntimeError("The answer has to begin before its parts.")
        try:
            await self._parts.send_bytes(part)
        except RuntimeError as error:
            raise ConnectionResetError from error
        self._untold += len(part)
        if self._untold >= MOST_UNTAKEN:
            self._untold = 0
            # Granian takes all it is given, however little of it the caller takes, and would hold it in memory.
            while unsent(self._scope.client, self._own_port) > MOST_UNTAKEN:  # noqa: ASYNC110  nobody tells when
                await asyncio.sleep(SECONDS_BETWEEN_LOOKS)

    async def hung_up(self) -> None:
        """Wait for it."""
        await self._transport.client_disconnect()
