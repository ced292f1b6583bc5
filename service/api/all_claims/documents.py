"""Documents of the list of claims on all lots."""

from msgspec import UNSET, Struct, UnsetType, field

from service.api.claims.documents import SettlementShown
from service.api.moments import Moment
from service.engine.documents import Day


class ClaimOnALot(Struct, frozen=True, kw_only=True):
    """A claim in the list of all lots' claims."""

    lot: str
    grade: str
    claim: str
    from_: str = field(name="from")
    received_on: Day
    requirements: list[str]
    """Ids of the requirements that the claimant says are not met."""
    recorded_at: Moment
    by: str
    verdict: int
    """Number of the contested verdict."""
    settled: SettlementShown | UnsetType = UNSET
    """Left out while the claim is open."""


class ClaimsOfLots(Struct, frozen=True):
    """Claims on all lots, the newest first."""

    claims: list[ClaimOnALot]
    next: str | UnsetType = UNSET
    """Send it as `after` to get the next page; left out on the last page."""
