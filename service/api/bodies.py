"""Taking in the body of a request: whole, JSON by type, no larger than is held, and within its time."""

import asyncio
import re
from contextlib import suppress

from service.api.patience import Patience
from service.api.problems import JSON, RefusalError
from service.api.routing import Route
from service.api.wires import CutOffError, Fields, Wire

MOST_POURED = 256 * 1024 * 1024
"""Of a body that was refused as too large, so many bytes are taken and forgotten before the connection is cut."""
_JSON_TYPE = re.compile(r"application/json\s*(?:;\s*charset\s*=\s*\"?utf-8\"?\s*)?\Z", re.IGNORECASE)


class Bodies:
    """Takes in bodies of at most so many bytes, each within so many seconds."""

    def __init__(self, most_bytes: int, seconds: float) -> None:
        """None is under way."""
        self._most_bytes, self._seconds = most_bytes, seconds
        self._patience = Patience(seconds)

    def hurry(self) -> None:
        """Wait no longer for what has been under way for a while, as others need the place."""
        self._patience.hurry()

    async def taken(self, wire: Wire, route: Route) -> bytes:
        """The whole body. Raises RefusalError where it is too large, not JSON by type, not whole or not here in time; Gone."""
        headers = wire.headers
        length = headers.get("content-length") or "0"
        if not length.isdecimal() or int(length[:20]) > self._most_bytes:
            raise self._too_large()
        if headers.get("content-type") != JSON or "content-encoding" in headers:
            _check_type(headers, route)
        task = self._patience.begin()
        try:
            body = await wire.body(self._most_bytes)
        except CutOffError:
            text = "The body broke off, or has trailers behind it. Send it again, whole and without any."
            raise RefusalError("not-json", text, (("connection", "close"),)) from None
        except asyncio.CancelledError:
            if not self._patience.is_lost(task):
                raise
            text = f"The body did not come within {self._seconds:g} seconds, or less in a rush. Send it again, whole."
            raise RefusalError("body-not-in-time", text, (("connection", "close"),)) from None
        finally:
            self._patience.end(task)
        # A chunked one does not say how long it is.
        if len(body) > self._most_bytes:
            raise self._too_large()
        return body

    async def pour_away(self, wire: Wire) -> None:
        """Take what still comes of a body that was refused: many clients look for the answer only after they have sent all."""
        with suppress(TimeoutError):
            async with asyncio.timeout(self._seconds):
                await wire.pour_away(MOST_POURED)

    def _too_large(self) -> RefusalError:
        text = f"A body may have at most {self._most_bytes} bytes. Send less at a time."
        return RefusalError("body-too-large", text, (("connection", "close"),))


def _check_type(headers: Fields, route: Route) -> None:
    """Raise RefusalError unless the body is plain, and JSON or what else the route takes."""
    media_type = headers.get("content-type") or ""
    if media_type != JSON and not _JSON_TYPE.match(media_type) and not route.takes(media_type):
        text = "The body must be sent as JSON in UTF-8. Set the header Content-Type to application/json."
        raise RefusalError("not-json-by-type", text, (("accept", "application/json"),))
    if "content-encoding" in headers:
        text = "An encoded body is not taken. Send it plain, without the header Content-Encoding."
        raise RefusalError("not-json-by-type", text, (("accept-encoding", "identity"),))
