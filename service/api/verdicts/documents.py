"""Documents about stored verdicts that only the HTTP layer has: a verdict with its metadata, and lists."""

from msgspec import UNSET, Raw, Struct, UnsetType

from service.api.moments import Moment
from service.engine.documents import Outcome, Verdict
from service.engine.ledger import StateAfter


class OfVerdict(Struct, frozen=True, kw_only=True):
    """The metadata of a stored verdict; like the verdict itself it never changes."""

    lot: str
    number: int
    """From 1, in the order in which the lot's verdicts were recorded."""
    recorded_at: Moment
    by: str
    """Who closed the lot, sent the readings that it waited for, or corrected it."""
    state: StateAfter
    """State of the lot by this verdict: `waiting` where it is undecided because readings are missing."""
    reason: str | UnsetType = UNSET
    """Why it was recorded, where a reason was given."""


class VerdictShown(OfVerdict, frozen=True, kw_only=True):
    """A stored verdict on a lot, byte for byte as it was given."""

    verdict: Verdict


class VerdictVerbatim(OfVerdict, frozen=True, kw_only=True):
    """VerdictShown for sending: the stored bytes are inserted without decoding them, so that not even their form can change."""

    verdict: Raw


class VerdictSummary(OfVerdict, frozen=True, kw_only=True):
    """A verdict in a list, without its document."""

    outcome: Outcome
    revision: int
    """The revision by which the lot was judged."""


class VerdictList(Struct, frozen=True):
    """Verdicts of a lot, the oldest first."""

    lot: str
    verdicts: list[VerdictSummary]
    next: int | UnsetType = UNSET
    """Send it as `after` to get the next page; left out on the last page."""
