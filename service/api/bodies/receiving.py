"""Receive request bodies: whole, of an accepted type, within the limit of bytes and before the deadline."""

import asyncio
import re
from contextlib import suppress
from typing import Any

from litestar import Request
from litestar.types import Receive

from service.api.access.gate import Gate
from service.api.bodies.deadline import BodyDeadline
from service.api.exchanges import Exchange, exchange_of
from service.api.operations import JSON, Operation
from service.api.problems import RefusalError

MOST_DRAINED = 256 * 1024 * 1024
"""Bytes of a refused body that are received and discarded before the connection is cut."""
_JSON_TYPE = re.compile(r"application/json\s*(?:;\s*charset\s*=\s*\"?utf-8\"?\s*)?\Z", re.IGNORECASE)
CLOSE_CONNECTION = (("connection", "close"),)


class StrictRequest(Request[Any, Any, Any]):
    """A request whose body `Bodies` receives before the handler is called."""

    raw_body: bytes
    """The body as received; set before the handler is called."""

    async def body(self) -> bytes:
        """The body as received."""
        return self.raw_body


class Bodies:
    """Receives bodies up to a size, each within a deadline, large ones as the gate admits them."""

    def __init__(self, most_bytes: int, seconds: float, gate: Gate) -> None:
        """Receive bodies of at most `most_bytes`, each within `seconds`."""
        self._most_bytes, self._seconds, self._gate = most_bytes, seconds, gate
        self._deadline = BodyDeadline(seconds)

    def expire_early(self) -> None:
        """Expire the bodies that have been awaited for a while, as other requests need their places."""
        self._deadline.expire_early()

    async def receive(self, request: StrictRequest, operation: Operation) -> bytes:
        """The whole body. Raises RefusalError where it is too large, of another type, encoded, cut off or too late."""
        exchange = exchange_of(request.scope)
        length = exchange.header(b"content-length") or "0"
        # int() of thousands of digits is slow and limited; 20 digits are above any limit, as is a text without digits.
        size = int(length[:20]) if length.isdecimal() else self._most_bytes + 1
        self._check_size(exchange, size)
        # The literal first: it is what stations send, and a comparison costs a fraction of the pattern.
        media_type = exchange.header(b"content-type") or ""
        if media_type != JSON and not _JSON_TYPE.match(media_type) and not operation.takes_rows_as(media_type):
            text = "The body must be sent as JSON in UTF-8. Set the header Content-Type to application/json."
            if not size and operation.takes_empty_object:
                text = "The body is empty. Send `{}`, with the header Content-Type: application/json."
            raise RefusalError("not-json-by-type", text, (("accept", "application/json"),))
        if exchange.header(b"content-encoding") is not None:
            text = "A compressed body is not taken. Send it as it is, without the header Content-Encoding."
            raise RefusalError("not-json-by-type", text, (("accept-encoding", "identity"),))
        self._admit(exchange, size)
        return await self._receive_in_time(request.receive, exchange)

    async def drain(self, receive: Receive) -> None:
        """Receive and discard the rest of a refused body: many clients read the answer only after sending everything."""
        with suppress(TimeoutError):
            async with asyncio.timeout(self._seconds):
                await _drain(receive)

    async def _receive_in_time(self, receive: Receive, exchange: Exchange) -> bytes:
        task = self._deadline.begin()
        try:
            return await self._receive_all(receive, exchange)
        except asyncio.CancelledError:
            if not self._deadline.is_expired(task):
                raise
            text = f"The body did not arrive within {self._seconds:g} seconds, or less under load. Send the whole body again."
            raise RefusalError("body-not-in-time", text, CLOSE_CONNECTION) from None
        finally:
            self._deadline.end(task)

    async def _receive_all(self, receive: Receive, exchange: Exchange) -> bytes:
        """All parts of a body. Raises RefusalError where it is cut off, or grows too large, as a chunked one may."""
        message: Any = await receive()
        parts = [message.get("body", b"")]
        total = len(parts[0])
        while True:
            # ASGI reports a body that was cut off in this way (trailers it leaves out); without the check it would pass for a
            # shorter, whole one.
            if message["type"] == "http.disconnect":
                text = "The body was cut off. Send the whole body again."
                raise RefusalError("not-json", text, CLOSE_CONNECTION)
            self._check_size(exchange, total)
            if total > exchange.admitted_bytes:
                self._admit(exchange, total)
            if not message.get("more_body"):
                return parts[0] if len(parts) == 1 else b"".join(parts)
            message = await receive()
            parts.append(message.get("body", b""))
            total += len(parts[-1])

    def _check_size(self, exchange: Exchange, size: int) -> None:
        """Raise RefusalError for a body above the limit."""
        if size > self._most_bytes:
            exchange.has_unread_body = True
            text = f"The body is larger than {self._most_bytes} bytes, the most that is taken. Send it in several requests."
            raise RefusalError("body-too-large", text, CLOSE_CONNECTION)

    def _admit(self, exchange: Exchange, size: int) -> None:
        """Reserve the body's bytes in the gate. Raises RefusalError where there is no room, after expiring slow bodies."""
        try:
            self._gate.admit(exchange, size)
        except RefusalError:
            exchange.has_unread_body = True
            self.expire_early()
            raise


async def _drain(receive: Receive) -> None:
    left = MOST_DRAINED
    while left > 0:
        message: Any = await receive()
        left -= len(message.get("body", b""))
        if not message.get("more_body"):
            return
