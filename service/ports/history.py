"""What use cases need of the lots that have verdicts: one after the other, in the order in which they were closed."""

from collections.abc import AsyncIterator
from contextlib import AbstractAsyncContextManager
from typing import Protocol

from msgspec import Struct

from service.ports.catalogue import Moment, StateError


class TrendUnknownError(StateError):
    """The grade has nothing of this name that is measured."""


class ClosedWanted(Struct, frozen=True, kw_only=True):
    """Which lots with a verdict are wanted; None asks nothing."""

    grade: str
    line: str | None = None
    closed_from: Moment | None = None
    closed_until: Moment | None = None
    limit: int = 100
    """The newest so many."""


class ClosedLot(Struct, frozen=True, kw_only=True):
    """A lot with a verdict."""

    lot: str
    at: Moment
    """Of its first verdict, whatever was corrected since."""
    evidence: bytes
    """The document that its newest verdict rests on."""


class History(Protocol):
    """The lots of a grade that have verdicts. All raise CatalogueAwayError while the database is away."""

    def closed(self, wanted: ClosedWanted) -> AbstractAsyncContextManager[AsyncIterator[ClosedLot]]:
        """Lots in the order in which they were closed, the oldest of them first; one at a time is in memory."""
