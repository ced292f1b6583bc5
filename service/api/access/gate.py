"""How many requests are answered at a time, and whose turn it is: checks go before bulk work."""

import asyncio

from service.api.problems import RefusalError

KEPT_FOR_CHECKS = 4
"""One place in so many is a check's, however much bulk work there is."""
LONG = 16 * 1024
"""Bytes: a body above takes as long to judge as many checks do."""
CHECKS = "/v1/checks"
ALWAYS_OPEN = ("/health", "/metrics", "/openapi.json", "/docs", "/v1/journal")
"""Where one sees how the service is doing, most of all when it has much to do."""
PAUSE_S = 0.001
"""Between one long body and the next, for the checks that came meanwhile and the next of the same stations."""


class Gate:
    """Refuses what comes while too much is in flight, and lets long bodies in one after the other."""

    def __init__(self, most: int) -> None:
        """Let so many requests be in flight, three in four of them bulk work."""
        self._most = most
        self.most_of_bulk = max(1, most - most // KEPT_FOR_CHECKS)
        """Up to so many in flight nobody is refused."""
        self._pausing, self._long = asyncio.Lock(), 0

    def check(self, path: str, in_flight: int) -> None:
        """Raise RefusalError where a request at this path is one too many; `in_flight` counts it in."""
        most = self._most if path == CHECKS else self.most_of_bulk
        if in_flight > most and not path.startswith(ALWAYS_OPEN):
            text = "So many requests are being answered that this one is not begun. Send it again in a second."
            raise RefusalError("too-busy", text, (("retry-after", "1"),))

    async def begin_long(self) -> None:
        """Begin to work on a long body: at once when it is alone, else one after the other with a pause between."""
        self._long += 1
        if self._long > 1:
            # Held for the pause only: the work itself may wait for the database, and nobody need wait along.
            async with self._pausing:
                await asyncio.sleep(PAUSE_S)

    def end_long(self) -> None:
        """That work is over, or was given up before it began."""
        self._long -= 1
