"""What use cases need of the lots that have verdicts: one after the other, in the order in which they were closed."""

from collections.abc import AsyncIterator, Sequence
from contextlib import AbstractAsyncContextManager
from typing import Protocol

from msgspec import Struct

from service.engine.impact import JudgedLot
from service.ports.catalogue import Moment, StateError


class TrendUnknownError(StateError):
    """The grade has nothing of this name that is measured."""


class ClosedLotsQuery(Struct, frozen=True, kw_only=True):
    """Which lots with a verdict are wanted; None asks nothing."""

    grade: str
    lines: Sequence[str] = ()
    """From any of these; from all where none is named."""
    closed_from: Moment | None = None
    closed_until: Moment | None = None
    limit: int | None = None
    """The newest so many; all where it is left out."""


class ClosedLot(Struct, frozen=True, kw_only=True):
    """A lot with a verdict."""

    lot: str
    at: Moment
    """Of its first verdict, whatever was corrected since."""
    evidence: bytes
    """The document that its newest verdict rests on."""


class VerdictPlace(Struct, frozen=True, kw_only=True):
    """Where a lot's newest verdict is kept."""

    lot: str
    at: Moment
    """Of its first verdict."""
    number: int
    """Of its newest one."""
    size: int
    """Bytes, or characters, of the documents that are kept with it."""


class ClosedLots(Protocol):
    """The lots of a grade that have verdicts. All raise CatalogueAwayError while the database is away."""

    def closed(self, wanted: ClosedLotsQuery) -> AbstractAsyncContextManager[AsyncIterator[ClosedLot]]:
        """Lots in the order in which they were closed, the oldest of them first; one at a time is in memory."""

    async def count(self, wanted: ClosedLotsQuery) -> int:
        """How many lots are wanted."""

    async def places(self, wanted: ClosedLotsQuery, after: VerdictPlace | None, limit: int) -> Sequence[VerdictPlace]:
        """At most so many of the lots, the newest first, without their documents; those that come after this one.

        What is closed meanwhile is newer than what was read before, so that each lot comes once. The bound of `wanted` on how
        many there are is left to the caller.
        """

    async def judged(self, places: Sequence[VerdictPlace]) -> Sequence[JudgedLot]:
        """The lots there with their documents, in this order."""
