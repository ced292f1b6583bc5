"""The limit on worker pools that exist at one time."""

from collections.abc import Iterator
from contextlib import contextmanager

from service.ports.workers import WorkersBusyError

MOST_POOLS = 2
"""Pools at one time: each keeps all workers busy and holds some pieces of work in memory."""
PIECES_EACH = 2
"""Pieces in flight per worker: one running and one waiting, so that no worker idles while a result is in transit."""


class PoolLimit:
    """A counter of the pools in use."""

    def __init__(self) -> None:
        """Start with none in use."""
        self._in_use = 0

    @contextmanager
    def acquired(self) -> Iterator[None]:
        """Hold one of the pools. Raises WorkersBusyError if all are in use."""
        if self._in_use >= MOST_POOLS:
            text = f"{MOST_POOLS} requests of this kind are already running. Try again when one of them has ended."
            raise WorkersBusyError(text)
        self._in_use += 1
        try:
            yield
        finally:
            self._in_use -= 1
