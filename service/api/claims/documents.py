"""Documents of claims that only the HTTP layer has: a claim with its metadata, both its sides, and lists."""

from collections.abc import Sequence

from msgspec import UNSET, Struct, UnsetType, field

from service.api.moments import Moment
from service.api.verdicts.replay_documents import OfReplay
from service.engine.comparing import Compared, Divergence
from service.engine.documents import Day, Outcome
from service.engine.ledger import Settling


class SettlementShown(Struct, frozen=True):
    """How a claim ended; never changes, and alters no verdict."""

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
    """Ids of the requirements that the claimant says are not met."""
    recorded_at: Moment
    by: str
    verdict: int
    """Number of the contested verdict, the newest one when the claim was recorded."""
    is_of_earlier_verdict: bool
    """True where a verdict was recorded after the claim."""
    settled: SettlementShown | UnsetType = UNSET
    """Left out while the claim is open."""


class ClaimList(Struct, frozen=True):
    """Claims on a lot, the oldest first."""

    lot: str
    claims: list[ClaimShown]
    next: int | UnsetType = UNSET
    """Send it as `after` to get the next page; left out on the last page."""


class SideShown(Struct, frozen=True):
    """The outcome for the lot by the evidence of one side."""

    outcome: Outcome
    evidence: str
    """Digest of that side's evidence."""


class ClaimAnswer(Struct, frozen=True, kw_only=True):
    """A claim with both its sides: the outcome then, the outcome by the claimant's evidence, and where the two differ."""

    lot: str
    claim: ClaimShown
    grade: str
    revision: int
    """The revision by which both sides are judged."""
    ours: SideShown
    """Our side, by the contested verdict."""
    theirs: SideShown | UnsetType = UNSET
    """The claimant's side; left out where no evidence was given."""
    compared: Sequence[Compared]
    """The contested requirements, in the order of the claim."""
    differ: Sequence[Divergence]
    """Differences between the sides for the lot as a whole."""
    replay: OfReplay
    """Replay of the contested verdict from its stored evidence."""
