"""Documents of claims that only HTTP has: a claim with who and when, both its sides, and lists of claims."""

from collections.abc import Sequence

from msgspec import UNSET, Struct, UnsetType, field

from service.api.moments import Moment
from service.api.verdicts.replay_documents import OfReplay
from service.engine.comparing import Compared, Divergence
from service.engine.documents import Day, Outcome
from service.engine.ledger import Settling


class SettlementShown(Struct, frozen=True):
    """How a claim ended; it never changes, and alters no verdict."""

    settlement: Settling
    reason: str
    settled_at: Moment
    by: str


class ClaimShown(Struct, frozen=True, kw_only=True):
    """A claim on a lot."""

    claim: str
    from_: str = field(name="from")
    received_on: Day
    requirements: list[str]
    """Those that are said not to be met."""
    recorded_at: Moment
    by: str
    verdict: int
    """The number of the verdict that it is against, the newest when it was recorded."""
    is_of_earlier_verdict: bool
    """Whether a verdict was recorded since."""
    settled: SettlementShown | UnsetType = UNSET
    """Left out where it is open."""


class ClaimList(Struct, frozen=True):
    """Claims on a lot, the first one first."""

    lot: str
    claims: list[ClaimShown]
    next: int | UnsetType = UNSET
    """Give it as `after` to get the next ones; left out at the end."""


class SideShown(Struct, frozen=True):
    """What the lot is by the evidence of one side."""

    outcome: Outcome
    evidence: str
    """The digest."""


class ClaimAnswer(Struct, frozen=True, kw_only=True):
    """A claim with both its sides: what was found then, what their evidence comes to, and where the two differ."""

    lot: str
    claim: ClaimShown
    grade: str
    revision: int
    """By which both sides are judged."""
    ours: SideShown
    """By the verdict that the claim is against."""
    theirs: SideShown | UnsetType = UNSET
    """Left out where they gave no evidence."""
    compared: Sequence[Compared]
    """The requirements that the claim is about, in its order."""
    differ: Sequence[Divergence]
    """What differs for the lot as a whole."""
    replay: OfReplay
    """The verdict that it is against, judged again from what was kept then."""
