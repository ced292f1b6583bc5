"""Load limits: how many requests and how many bytes of bodies at a time, with room reserved for checks."""

import asyncio

from service.api.exchanges import Exchange
from service.api.problems import RefusalError

RESERVED_FOR_CHECKS = 4
"""One in this many places is reserved for checks, so that lots sent all at once leave room for them."""
LONG_BODY = 16 * 1024
"""Bytes: a body above takes as long to judge as many checks, so such bodies are processed with pauses between."""
LARGE_BODY = 1024 * 1024
"""Bytes: a body above is admitted by its size, as the objects decoded from it take many times its bytes."""
MOST_LARGE_BYTES = 32 * 1024 * 1024
"""Bytes of all large bodies that are received or processed at a time; a single one may have more."""
CHECKS = "/v1/checks"
ALWAYS_OPEN = ("/health", "/metrics", "/openapi.json", "/docs", "/v1/journal")
"""Paths that show how the service is doing: never refused for load, as they matter most under load."""
PAUSE_S = 0.001
"""Seconds between two long bodies: enough to answer the checks that arrived meanwhile, and each station's next one."""


class Gate:
    """Refuses requests while too many are in flight or too many bytes are admitted, and spaces out long bodies."""

    def __init__(self, most: int) -> None:
        """Create the gate; `most` is the limit of requests in flight, three quarters of them for other work than checks."""
        self._most = most
        self.most_of_bulk = max(1, most - most // RESERVED_FOR_CHECKS)
        """Requests in flight up to which none is refused."""
        self._pause_lock, self._long_bodies = asyncio.Lock(), 0
        self._admitted_bytes = 0
        """Bytes of all large bodies that are admitted now."""

    def check(self, path: str, in_flight: int) -> None:
        """Raise RefusalError where a request for this path exceeds the limit; `in_flight` includes it.

        Decided by the path alone, before key and body are read: refusing has to cost next to nothing.
        """
        most = self._most if path == CHECKS else self.most_of_bulk
        if in_flight > most and not path.startswith(ALWAYS_OPEN):
            text = "The service is too busy with other requests. Send this one again in a second."
            raise RefusalError("too-busy", text, (("retry-after", "1"),))

    def admit(self, exchange: Exchange, size: int) -> None:
        """Reserve the bytes of a body of this size, or of a chunked one that has grown to it; `leave` releases them.

        Raises RefusalError where other large bodies leave no room for it.
        """
        if size <= LARGE_BODY:
            return
        more = size - exchange.admitted_bytes
        # The first comparison lets a body in where no other large one is: else one above the limit would never be admitted.
        if self._admitted_bytes > exchange.admitted_bytes and self._admitted_bytes + more > MOST_LARGE_BYTES:
            text = "The service is too busy with other large bodies. Send this one again in a second."
            raise RefusalError("too-busy", text, (("retry-after", "1"), ("connection", "close")))
        exchange.admitted_bytes, self._admitted_bytes = size, self._admitted_bytes + more

    def leave(self, exchange: Exchange) -> None:
        """Release what the request has reserved, once it is answered or given up."""
        self._admitted_bytes -= exchange.admitted_bytes
        exchange.admitted_bytes = 0
        if exchange.is_long:
            self.end_long()

    async def begin_long(self) -> None:
        """Wait until a long body may be processed: not at all when it is alone, else for a pause after the one before."""
        self._long_bodies += 1
        if self._long_bodies > 1:
            # The lock is held for the pause only: the work itself may wait for the database, and others need not wait for that.
            async with self._pause_lock:
                await asyncio.sleep(PAUSE_S)

    def end_long(self) -> None:
        """Count one long body less, whether it was processed or given up before."""
        self._long_bodies -= 1
