"""How many teams there may be at a time."""

from collections.abc import Iterator
from contextlib import contextmanager

from service.ports.workers import WorkersBusyError

MOST_TEAMS = 2
"""At a time: each keeps all workers busy and holds some pieces of work in memory."""
PIECES_EACH = 2
"""One to work on, and one that waits, so that nobody is idle while a result is on its way."""


class TeamLimit:
    """Whose turn it is."""

    def __init__(self) -> None:
        """Nobody's yet."""
        self._taken = 0

    @contextmanager
    def taken(self) -> Iterator[None]:
        """One of them. Raises WorkersBusyError where there is none left."""
        if self._taken >= MOST_TEAMS:
            text = f"{MOST_TEAMS} such questions are being worked on already. Ask again when one of them is answered."
            raise WorkersBusyError(text)
        self._taken += 1
        try:
            yield
        finally:
            self._taken -= 1
