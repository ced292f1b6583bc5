"""Port of production lines: the results of their lots, and decisions about the severity of their inspection."""

from collections.abc import Sequence
from typing import Protocol

from msgspec import Struct

from service.ports.catalogue import Moment


class LineLot(Struct, frozen=True, kw_only=True):
    """One verdict on a lot of the line."""

    lot: str
    at: Moment
    """Moment of the lot's first verdict, by which lots are ordered."""
    number: int
    """Number of this verdict."""
    results: bytes
    """The results that the switching rules count, as JSON."""


class LineDecision(Struct, frozen=True, kw_only=True):
    """One decision about a line; every decision stays stored."""

    id: str
    at: Moment
    by: str
    document: bytes
    """Canonical JSON, with sorted keys."""


class LineHistoryPart(Struct, frozen=True, kw_only=True):
    """Verdicts and decisions of a line that were recorded from some moment on."""

    # Read first: rows committed while the others are read lie at or behind it, and the next read includes them.
    now: Moment
    """The database's clock, read before the rows."""
    lots: Sequence[LineLot]
    decisions: Sequence[LineDecision]


class Lines(Protocol):
    """Lines, identified by the code of their grade and their own code. Each call raises CatalogueAwayError."""

    async def recorded(self, grade: str, line: str, since: Moment | None) -> LineHistoryPart:
        """Return the verdicts on the line's lots and the decisions about it from `since` on; None returns all."""

    async def decide(self, grade: str, line: str, decision: str, document: bytes, by: str) -> tuple[LineDecision, bool]:
        """Return (new decision, True), or (the stored decision with this id, False), whatever document that has."""
