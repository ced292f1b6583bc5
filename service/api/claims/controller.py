"""The controller of claims: complaints about lots, answered by both sides' evidence beside each other."""

from typing import Annotated

from litestar import Controller, Response
from litestar.di import NamedDependency
from litestar.params import JSONBody
from msgspec import UNSET, Meta
from msgspec.structs import asdict

from service.api.answers import created_or_found
from service.api.bodies.receiving import StrictRequest
from service.api.claims import operations
from service.api.claims.documents import ClaimAnswer, ClaimList, ClaimShown, SettlementShown, SideShown
from service.api.handlers import get, post, put
from service.api.lots.shown import Lots
from service.api.operations import documented
from service.api.parameters import ClaimName, Limit, LotId, query_parameter
from service.api.verdicts.shown import replay_summary
from service.engine.documents import Evidence, Verdict
from service.engine.ledger import Claim, Settled, Settlement
from service.usecases import claims as use
from service.usecases.judging import check_readings
from service.usecases.lots import Replayed
from service.usecases.paging import MOST_AT_ONCE, part_of

_Number = Annotated[int, Meta(ge=0, le=999_999_999)]
AfterClaim = Annotated[_Number | None, query_parameter("Only those behind the first so many.", 0)]


class ClaimController(Controller):
    """Claims on a lot."""

    path = "/v1/lots/{lot:str}/claims"

    @get(**documented(operations.LIST_CLAIMS))
    async def list_claims(
        self, lot: LotId, lots: NamedDependency[Lots], after: AfterClaim = None, limit: Limit = None
    ) -> ClaimList:
        """List the claims on a lot."""
        # A lot's claims are few and folded in memory, so a page is a slice of the list.
        every = await use.known_claims(lots.ledger, lot)
        found, last = part_of(every, after or 0, limit or MOST_AT_ONCE)
        return ClaimList(lot, [_claim(known) for known in found], last or UNSET)

    @get("/{claim:str}", **documented(operations.SHOW_CLAIM))
    async def show(self, lot: LotId, claim: ClaimName, lots: NamedDependency[Lots]) -> ClaimAnswer:
        """Show a claim with both its sides."""
        return await _answer(lots, lot, claim)

    @get("/{claim:str}/evidence", **documented(operations.SHOW_CLAIM_EVIDENCE))
    async def show_evidence(self, lot: LotId, claim: ClaimName, lots: NamedDependency[Lots]) -> Evidence:
        """Show the claimant's evidence."""
        return await use.claim_evidence(lots.ledger, lot, claim)

    @put("/{claim:str}", **documented(operations.MAKE_CLAIM))
    async def make(
        self, lot: LotId, claim: ClaimName, data: JSONBody[Claim], lots: NamedDependency[Lots], request: StrictRequest
    ) -> Response[ClaimAnswer]:
        """Make a claim."""
        if data.evidence:
            check_readings(data.evidence.series, lots.most_readings)
        is_new = await use.put_claim(lots.ledger, lots.grade_cache, lot, claim, data, request.user.name)
        location = f"/v1/lots/{lot}/claims/{claim}" if is_new else ""
        return created_or_found(await _answer(lots, lot, claim), is_new=is_new, location=location)

    @post("/{claim:str}/settle", **documented(operations.SETTLE_CLAIM))
    async def settle(
        self,
        lot: LotId,
        claim: ClaimName,
        data: JSONBody[Settlement],
        lots: NamedDependency[Lots],
        request: StrictRequest,
    ) -> Response[ClaimShown]:
        """Settle a claim: record how it ended."""
        is_new = await use.settle_claim(lots.ledger, lot, claim, data, request.user.name)
        return created_or_found(_claim(await use.known_claim(lots.ledger, lot, claim)), is_new=is_new)


async def _answer(lots: Lots, lot: str, name: str) -> ClaimAnswer:
    """A claim with both its sides."""
    # Judged at each request: only the claim and its evidence are stored, and the same answer follows from them.
    known, row, weighed = await use.answered_claim(lots.ledger, lots.grade_cache, lot, name)
    return ClaimAnswer(
        lot=lot,
        claim=_claim(known),
        grade=weighed.ours.grade or "",
        revision=weighed.ours.revision or 0,
        ours=_side(weighed.ours),
        theirs=_side(weighed.theirs) if weighed.theirs else UNSET,
        compared=weighed.compared,
        differ=weighed.differ,
        replay=replay_summary(Replayed(row, weighed.replay)),
    )


def _claim(known: use.KnownClaim) -> ClaimShown:
    claimed = known.claimed
    return ClaimShown(
        claim=known.name,
        from_=claimed.head.from_,
        received_on=claimed.head.received_on,
        requirements=claimed.head.requirements,
        recorded_at=claimed.at,
        by=claimed.by,
        verdict=claimed.verdict,
        is_of_earlier_verdict=known.verdicts > claimed.verdict,
        settled=_settled(known.settled) if known.settled else UNSET,
    )


def _settled(settled: Settled) -> SettlementShown:
    return SettlementShown(**asdict(settled.document), settled_at=settled.at, by=settled.by)


def _side(verdict: Verdict) -> SideShown:
    return SideShown(verdict.outcome, verdict.evidence)
