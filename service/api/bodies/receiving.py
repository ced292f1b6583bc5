"""Taking in the body of a request: whole, JSON by type, no larger than is held, and within its time."""

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

MOST_POURED = 256 * 1024 * 1024
"""Of a body that was refused as too large, so many bytes are taken and forgotten before the connection is cut."""
_JSON_TYPE = re.compile(r"application/json\s*(?:;\s*charset\s*=\s*\"?utf-8\"?\s*)?\Z", re.IGNORECASE)
HANG_UP = (("connection", "close"),)


class StrictRequest(Request[Any, Any, Any]):
    """A request whose body is read by `Bodies` before its handler is called."""

    whole: bytes
    """The whole body, as soon as it is read."""

    async def body(self) -> bytes:
        """The whole body."""
        return self.whole


class Bodies:
    """Takes in bodies of at most so many bytes, each within so many seconds, large ones as the gate admits them."""

    def __init__(self, most_bytes: int, seconds: float, gate: Gate) -> None:
        """None is under way."""
        self._most_bytes, self._seconds, self._gate = most_bytes, seconds, gate
        self._patience = BodyDeadline(seconds)

    def hurry(self) -> None:
        """Wait no longer for what has been under way for a while, as others need the place."""
        self._patience.hurry()

    async def taken(self, request: StrictRequest, operation: Operation) -> bytes:
        """The whole body. Raises RefusalError where it is too large, not JSON by type, not whole or not here in time."""
        exchange = exchange_of(request.scope)
        length = exchange.header(b"content-length") or "0"
        size = int(length[:20]) if length.isdecimal() else self._most_bytes + 1
        self._check_size(exchange, size)
        media_type = exchange.header(b"content-type") or ""
        if media_type != JSON and not _JSON_TYPE.match(media_type) and not operation.takes(media_type):
            text = "The body must be sent as JSON in UTF-8. Set the header Content-Type to application/json."
            raise RefusalError("not-json-by-type", text, (("accept", "application/json"),))
        if exchange.header(b"content-encoding") is not None:
            text = "An encoded body is not taken. Send it plain, without the header Content-Encoding."
            raise RefusalError("not-json-by-type", text, (("accept-encoding", "identity"),))
        self._admit(exchange, size)
        return await self._in_time(request.receive, exchange)

    async def pour_away(self, receive: Receive) -> None:
        """Take what still comes of a body that was refused: many clients look for the answer only after they have sent all."""
        with suppress(TimeoutError):
            async with asyncio.timeout(self._seconds):
                await _poured(receive)

    async def _in_time(self, receive: Receive, exchange: Exchange) -> bytes:
        task = self._patience.begin()
        try:
            return await self._whole(receive, exchange)
        except asyncio.CancelledError:
            if not self._patience.is_lost(task):
                raise
            text = f"The body did not come within {self._seconds:g} seconds, or less in a rush. Send it again, whole."
            raise RefusalError("body-not-in-time", text, HANG_UP) from None
        finally:
            self._patience.end(task)

    async def _whole(self, receive: Receive, exchange: Exchange) -> bytes:
        """All parts. Raises RefusalError for a body that breaks off, or grows too large, as a chunked one may."""
        message: Any = await receive()
        parts = [message.get("body", b"")]
        total = len(parts[0])
        while True:
            if message["type"] == "http.disconnect":
                text = "The body broke off. Send it again, whole."
                raise RefusalError("not-json", text, HANG_UP)
            self._check_size(exchange, total)
            if total > exchange.admitted:
                self._admit(exchange, total)
            if not message.get("more_body"):
                return parts[0] if len(parts) == 1 else b"".join(parts)
            message = await receive()
            parts.append(message.get("body", b""))
            total += len(parts[-1])

    def _check_size(self, exchange: Exchange, size: int) -> None:
        """Raise RefusalError for a body that is too large."""
        if size > self._most_bytes:
            exchange.is_left = True
            text = f"A body may have at most {self._most_bytes} bytes. Send less at a time."
            raise RefusalError("body-too-large", text, HANG_UP)

    def _admit(self, exchange: Exchange, size: int) -> None:
        """Admit it. Raises RefusalError where there is no room; then what has been under way for a while ends too."""
        try:
            self._gate.admit(exchange, size)
        except RefusalError:
            exchange.is_left = True
            self.hurry()
            raise


async def _poured(receive: Receive) -> None:
    left = MOST_POURED
    while left > 0:
        message: Any = await receive()
        left -= len(message.get("body", b""))
        if not message.get("more_body"):
            return
