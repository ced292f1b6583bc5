"""How many requests are answered at a time, how much they may bring, and whose turn it is: checks go before bulk work."""

import asyncio

from service.api.exchanges import Exchange
from service.api.problems import RefusalError

RESERVED_FOR_CHECKS = 4
"""One place in so many is a check's, however much bulk work there is."""
LONG = 16 * 1024
"""Bytes: a body above takes as long to judge as many checks do."""
LARGE = 1024 * 1024
"""Bytes: a body above is admitted by its bytes, as what is made of it takes many times as many."""
MOST_OF_LARGE = 32 * 1024 * 1024
"""Bytes of large bodies that are taken in or worked on at a time; one by itself may have more."""
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
        self.most_of_bulk = max(1, most - most // RESERVED_FOR_CHECKS)
        """Up to so many in flight nobody is refused."""
        self._pausing, self._long = asyncio.Lock(), 0
        self._bytes = 0
        """Of large bodies that are in."""

    def check(self, path: str, in_flight: int) -> None:
        """Raise RefusalError where a request at this path is one too many; `in_flight` counts it in."""
        most = self._most if path == CHECKS else self.most_of_bulk
        if in_flight > most and not path.startswith(ALWAYS_OPEN):
            text = "So many requests are being answered that this one is not begun. Send it again in a second."
            raise RefusalError("too-busy", text, (("retry-after", "1"),))

    def admit(self, exchange: Exchange, size: int) -> None:
        """Admit a body of this size, or one that has grown to it; what it takes is given back by `leave`.

        Raises RefusalError where other large bodies leave no room for it.
        """
        if size <= LARGE:
            return
        more = size - exchange.admitted
        if self._bytes > exchange.admitted and self._bytes + more > MOST_OF_LARGE:
            text = "So many large bodies are being worked on that this one is not taken. Send it again in a second."
            raise RefusalError("too-busy", text, (("retry-after", "1"), ("connection", "close")))
        exchange.admitted, self._bytes = size, self._bytes + more

    def leave(self, exchange: Exchange) -> None:
        """The request has its answer, or nobody waits for one."""
        self._bytes -= exchange.admitted
        exchange.admitted = 0
        if exchange.is_long:
            self.end_long()

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
