"""Documents of closing that only HTTP has: a verdict with what is said of it, and lists of verdicts."""

from msgspec import UNSET, Raw, Struct, UnsetType

from service.api.moments import Moment
from service.engine.documents import Outcome, Verdict
from service.engine.ledger import StateAfter


class OfVerdict(Struct, frozen=True, kw_only=True):
    """What is said of a verdict on a lot; like the verdict itself it never changes."""

    lot: str
    number: int
    """From 1, in the order in which the lot's verdicts were recorded."""
    recorded_at: Moment
    by: str
    """Who closed the lot, sent what it waited for, or corrected it."""
    state: StateAfter
    """Of the lot by this verdict: `waiting` where it is undecided for want of readings."""
    reason: str | UnsetType = UNSET
    """Why it was recorded, where that was record."""


class VerdictShown(OfVerdict, frozen=True, kw_only=True):
    """A verdict that is kept on a lot, byte for byte as it was given."""

    verdict: Verdict


class VerdictVerbatim(OfVerdict, frozen=True, kw_only=True):
    """The same, on its way out: the bytes that are kept."""

    verdict: Raw


class VerdictSummary(OfVerdict, frozen=True, kw_only=True):
    """A verdict in a list, without its document."""

    outcome: Outcome
    revision: int
    """By which the lot was judged."""


class VerdictList(Struct, frozen=True):
    """Verdicts of a lot, the first one first."""

    lot: str
    verdicts: list[VerdictSummary]
    next: int | UnsetType = UNSET
    """Give it as `after` to get the next ones; left out at the end."""
