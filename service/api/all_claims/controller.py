"""The controller of the list of claims on all lots."""

from functools import partial
from typing import Annotated, Literal

from litestar import Controller
from litestar.di import NamedDependency
from msgspec import UNSET, Meta

from service.api.all_claims import operations
from service.api.all_claims.documents import ClaimOnALot, ClaimsOfLots
from service.api.claims.documents import SettlementShown
from service.api.handlers import get
from service.api.lots.shown import Lots
from service.api.operations import documented
from service.api.parameters import Limit, query_parameter
from service.engine.documents import Code
from service.usecases import claims as use
from service.usecases.paging import MOST_AT_ONCE, part

_Place = Annotated[str, Meta(pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]{0,63}/[A-Za-z0-9][A-Za-z0-9._-]{0,63}\Z", max_length=129)]
InState = Annotated[
    Literal["open", "settled"] | None, query_parameter("Only claims that are open, or settled.", "open", "state")
]
OfGrade = Annotated[Code | None, query_parameter("Only claims on lots of this grade.", "TB-130")]
AfterClaim = Annotated[
    _Place | None, query_parameter("Only claims recorded before this one, written as lot/claim.", "0412-07/R-2027-3")
]


class AllClaimsController(Controller):
    """Claims on all lots."""

    path = "/v1/claims"

    @get(**documented(operations.LIST_ALL_CLAIMS))
    async def list_all(
        self,
        lots: NamedDependency[Lots],
        in_state: InState = None,
        grade: OfGrade = None,
        after: AfterClaim = None,
        limit: Limit = None,
    ) -> ClaimsOfLots:
        """List the claims on all lots."""
        wanted = use.claims_query(grade, in_state, after)
        found, last = await part(partial(use.list_claims, lots.ledger, wanted), limit or MOST_AT_ONCE)
        return ClaimsOfLots([_shown(each) for each in found], f"{last.lot}/{last.name}" if last else UNSET)


def _shown(each: use.ClaimInList) -> ClaimOnALot:
    claimed, settled = each.claimed, each.settled
    ended = SettlementShown(settled.document.settlement, settled.document.reason, settled.at, settled.by) if settled else UNSET
    return ClaimOnALot(
        lot=each.lot,
        grade=each.grade,
        claim=each.name,
        from_=claimed.head.from_,
        received_on=claimed.head.received_on,
        requirements=claimed.head.requirements,
        recorded_at=claimed.at,
        by=claimed.by,
        verdict=claimed.verdict,
        settled=ended,
    )
