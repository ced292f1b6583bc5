"""What use cases need of lines: the results of their lots, and what was decided about their inspection."""

from collections.abc import Sequence
from typing import Protocol

from msgspec import Struct

from service.ports.catalogue import Moment


class LineLot(Struct, frozen=True, kw_only=True):
    """A verdict on a lot of the line."""

    lot: str
    at: Moment
    """Of the lot's first verdict."""
    number: int
    """Of this one."""
    results: bytes
    """What it says to switching, as JSON."""


class LineDecision(Struct, frozen=True, kw_only=True):
    """A decision about a line; each one is kept."""

    id: str
    at: Moment
    by: str
    document: bytes
    """As JSON, keys in order."""


class LineHistoryPart(Struct, frozen=True, kw_only=True):
    """What was recorded of a line from a moment on."""

    now: Moment
    """By the database's clock, before it was read."""
    lots: Sequence[LineLot]
    decisions: Sequence[LineDecision]


class Lines(Protocol):
    """Lines by the code of the grade that they make and a code of their own. All raise CatalogueAwayError."""

    async def recorded(self, grade: str, line: str, since: Moment | None) -> LineHistoryPart:
        """The verdicts on the line's lots, and the decisions about it, that were recorded since then; None for all of them."""

    async def decide(self, grade: str, line: str, decision: str, document: bytes, by: str) -> tuple[LineDecision, bool]:
        """(the decision, True) where it is new; else (the one that is kept under this id, False), whatever it says."""
