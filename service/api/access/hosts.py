"""Under which names of a host requests are taken: else a page elsewhere could reach in through a browser here."""

import re
from collections.abc import Iterable

LOOPBACK = ("127.0.0.1", "localhost", "[::1]")
MOST_REMEMBERED = 64
_HOST = re.compile(r"(\[[0-9a-fA-F:.]+\]|[A-Za-z0-9._-]+)(?::[0-9]{1,5})?\Z")


class AllowedHosts:
    """The names that a service goes by."""

    def __init__(self, names: Iterable[str]) -> None:
        """Those of the loopback interface, and these, without a port."""
        self._names = {name.lower() for name in (*LOOPBACK, *names)}
        self.remembered: set[str | None] = set()
        """Values of the header Host, as clients send them, that were found to be good."""

    def add(self, name: str) -> None:
        """Take requests under this name too."""
        self._names.add(name.lower())

    def knows(self, host: str | None) -> bool:
        """Whether a service goes by what the header Host says, with a port or without."""
        match = _HOST.match(host or "")
        if not match or match[1].lower() not in self._names:
            return False
        if len(self.remembered) < MOST_REMEMBERED:
            self.remembered.add(host)
        return True
