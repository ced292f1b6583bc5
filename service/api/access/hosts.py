"""The allowed values of the header Host: a guard against DNS rebinding, by which a foreign page reaches a local service."""

import re
from collections.abc import Iterable

LOOPBACK = ("127.0.0.1", "localhost", "[::1]")
MOST_ACCEPTED_VALUES = 64
"""A bound, as the values are texts that callers write: upper case and ports vary without end."""
_HOST = re.compile(r"(\[[0-9a-fA-F:.]+\]|[A-Za-z0-9._-]+)(?::[0-9]{1,5})?\Z")


class AllowedHosts:
    """The host names and addresses under which the service takes requests."""

    def __init__(self, names: Iterable[str]) -> None:
        """Allow the names of the loopback interface and these, without a port."""
        self._names = {name.lower() for name in (*LOOPBACK, *names)}
        self.accepted_values: set[str | None] = set()
        """Values of the header Host that were checked before, verbatim: a set lookup in place of the pattern for each check."""

    def add(self, name: str) -> None:
        """Allow this name too."""
        self._names.add(name.lower())

    def allows(self, host: str | None) -> bool:
        """Whether this value of the header Host, with or without a port, is an allowed name."""
        match = _HOST.match(host or "")
        if not match or match[1].lower() not in self._names:
            return False
        if len(self.accepted_values) < MOST_ACCEPTED_VALUES:
            self.accepted_values.add(host)
        return True
