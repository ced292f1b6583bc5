"""Port of lots that have verdicts, read in the order of their first verdicts."""

from collections.abc import AsyncIterator, Sequence
from contextlib import AbstractAsyncContextManager
from typing import Protocol

from msgspec import Struct

from service.engine.impact import JudgedLot
from service.ports.catalogue import Moment, StateError


class TrendUnknownError(StateError):
    """The grade measures no characteristic of this name."""


class ClosedLotsQuery(Struct, frozen=True, kw_only=True):
    """A filter of lots with a verdict; None does not filter."""

    grade: str
    lines: Sequence[str] = ()
    """Lines whose lots are included; empty for all lots."""
    closed_from: Moment | None = None
    closed_until: Moment | None = None
    limit: int | None = None
    """Only so many of the newest lots; None for all."""


class ClosedLot(Struct, frozen=True, kw_only=True):
    """A lot with a verdict, and the evidence of its newest one."""

    lot: str
    # The first one: a correction must not move a lot to another place in a trend.
    at: Moment
    """Moment of the lot's first verdict, whatever was corrected later."""
    evidence: bytes
    """The evidence document, as JSON, of the newest verdict."""


class VerdictPlace(Struct, frozen=True, kw_only=True):
    """Key and size of a lot's newest stored verdict."""

    lot: str
    at: Moment
    """Moment of the lot's first verdict."""
    number: int
    """Number of the newest verdict."""
    # Pieces of work are cut by size, before any document is read.
    size: int
    """Size of the verdict and its evidence: bytes on PostgreSQL, characters on SQLite."""


class ClosedLots(Protocol):
    """Lots of a grade that have verdicts. Each call raises CatalogueAwayError while the database is unavailable."""

    def closed(self, wanted: ClosedLotsQuery) -> AbstractAsyncContextManager[AsyncIterator[ClosedLot]]:
        """Open an iterator over lots by their first verdicts, oldest first; only one lot at a time is in memory."""

    async def count(self, wanted: ClosedLotsQuery) -> int:
        """Count the lots that match."""

    async def places(self, wanted: ClosedLotsQuery, after: VerdictPlace | None, limit: int) -> Sequence[VerdictPlace]:
        """Return the next page of at most `limit` lots behind `after`, newest first, without their documents.

        A lot that is closed between two pages is newer than both, so each lot is returned once. `wanted.limit` is not applied;
        the caller counts.
        """

    async def judged(self, places: Sequence[VerdictPlace]) -> Sequence[JudgedLot]:
        """Return the lots of these places with their documents, in the same order."""
