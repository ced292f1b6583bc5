"""Taking in the body of a request: whole, JSON by type, no larger than is held, and within its time."""

import asyncio
import re
from contextlib import suppress
from typing import Any

from litestar import Request
from litestar.types import Receive

from service.api.access.patience import Patience
from service.api.exchanges import exchange_of
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
    """Takes in bodies of at most so many bytes, each within so many seconds."""

    def __init__(self, most_bytes: int, seconds: float) -> None:
        """None is under way."""
        self._most_bytes, self._seconds = most_bytes, seconds
        self._patience = Patience(seconds)

    def hurry(self) -> None:
        """Wait no longer for what has been under way for a while, as others need the place."""
        self._patience.hurry()

    async def taken(self, request: StrictRequest, operation: Operation) -> bytes:
        """The whole body. Raises RefusalError where it is too large, not JSON by type, not whole or not here in time."""
        header = exchange_of(request.scope).header
        length = header(b"content-length") or "0"
        if not length.isdecimal() or int(length[:20]) > self._most_bytes:
            raise self._too_large()
        media_type = header(b"content-type") or ""
        if media_type != JSON and not _JSON_TYPE.match(media_type) and not operation.takes(media_type):
            text = "The body must be sent as JSON in UTF-8. Set the header Content-Type to application/json."
            raise RefusalError("not-json-by-type", text, (("accept", "application/json"),))
        if header(b"content-encoding") is not None:
            text = "An encoded body is not taken. Send it plain, without the header Content-Encoding."
            raise RefusalError("not-json-by-type", text, (("accept-encoding", "identity"),))
        body = await self._in_time(request.receive)
        # A chunked one does not say how long it is.
        if len(body) > self._most_bytes:
            raise self._too_large()
        return body

    async def pour_away(self, receive: Receive) -> None:
        """Take what still comes of a body that was refused: many clients look for the answer only after they have sent all."""
        with suppress(TimeoutError):
            async with asyncio.timeout(self._seconds):
                await _poured(receive)

    async def _in_time(self, receive: Receive) -> bytes:
        task = self._patience.begin()
        try:
            return await _whole(receive, self._most_bytes)
        except asyncio.CancelledError:
            if not self._patience.is_lost(task):
                raise
            text = f"The body did not come within {self._seconds:g} seconds, or less in a rush. Send it again, whole."
            raise RefusalError("body-not-in-time", text, HANG_UP) from None
        finally:
            self._patience.end(task)

    def _too_large(self) -> RefusalError:
        return RefusalError(
            "body-too-large", f"A body may have at most {self._most_bytes} bytes. Send less at a time.", HANG_UP
        )


async def _whole(receive: Receive, most: int) -> bytes:
    """All parts, or as many as are too much. Raises RefusalError for one that breaks off."""
    message: Any = await receive()
    body: bytes = message.get("body", b"")
    if message["type"] == "http.request" and not message.get("more_body"):
        return body
    parts, total = [body], len(body)
    while message.get("more_body") and total <= most:
        message = await receive()
        parts.append(message.get("body", b""))
        total += len(parts[-1])
    if message["type"] == "http.disconnect":
        text = "The body broke off. Send it again, whole."
        raise RefusalError("not-json", text, HANG_UP)
    return b"".join(parts)


async def _poured(receive: Receive) -> None:
    left = MOST_POURED
    while left > 0:
        message: Any = await receive()
        left -= len(message.get("body", b""))
        if not message.get("more_body"):
            return
