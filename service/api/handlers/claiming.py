"""Claims: what others hold against lots, answered by both sides beside each other."""

from msgspec import UNSET
from msgspec.structs import asdict

from service.api.claiming_documents import ClaimAnswer, ClaimList, ClaimShown, SettlementShown, SideShown
from service.api.decoding import Shape, decoded
from service.api.handlers.lots import there_first
from service.api.handlers.replaying import what_came
from service.api.problems import CREATED, OK, Answer
from service.api.requests import Request
from service.api.service import Service, shown
from service.engine.ledger.claiming import Claim, Settled, Settlement
from service.engine.verdict import Verdict
from service.usecases.judging import check_readings
from service.usecases.ledger import claiming as use
from service.usecases.ledger.replaying import Replayed
from service.usecases.paging import MOST_AT_ONCE, part_of

CLAIM, SETTLEMENT = Shape(Claim), Shape(Settlement)


async def put_claim(request: Request, service: Service) -> Answer:
    """Make a claim."""
    lot, name = _named(request)
    claim = await there_first(service, lot, decoded(request.body, CLAIM))
    if claim.evidence:
        check_readings(claim.evidence.series, service.most_readings)
    is_new = await use.put_claim(service.ledger, service.shelf, lot, name, claim, request.by.name)
    headers = (("location", f"/v1/lots/{lot}/claims/{name}"),) if is_new else ()
    return shown(await _answer(service, lot, name), CREATED if is_new else OK, headers)


async def show_claim(request: Request, service: Service) -> Answer:
    """A claim with both its sides."""
    return shown(await _answer(service, *_named(request)))


async def show_claim_evidence(request: Request, service: Service) -> Answer:
    """The other side's evidence."""
    return shown(await use.claim_evidence(service.ledger, *_named(request)))


async def list_claims(request: Request, service: Service) -> Answer:
    """The claims on a lot."""
    lot = request.path["lot"]
    every = await use.known_claims(service.ledger, lot)
    found, after = part_of(every, request.query.get("after", 0), request.query.get("limit", MOST_AT_ONCE))
    return shown(ClaimList(lot, [_claim(each) for each in found], after or UNSET))


async def settle_claim(request: Request, service: Service) -> Answer:
    """Say how a claim ended."""
    lot, name = _named(request)
    settlement = await there_first(service, lot, decoded(request.body, SETTLEMENT))
    is_new = await use.settle_claim(service.ledger, lot, name, settlement, request.by.name)
    return shown(_claim(await use.known_claim(service.ledger, lot, name)), CREATED if is_new else OK)


def _named(request: Request) -> tuple[str, str]:
    """The lot and the name of the claim in the path."""
    return request.path["lot"], request.path["claim"]


async def _answer(service: Service, lot: str, name: str) -> ClaimAnswer:
    """A claim with both its sides."""
    known, row, weighed = await use.answered_claim(service.ledger, service.shelf, lot, name)
    return ClaimAnswer(
        lot=lot,
        claim=_claim(known),
        grade=weighed.ours.grade or "",
        revision=weighed.ours.revision or 0,
        ours=_side(weighed.ours),
        theirs=_side(weighed.theirs) if weighed.theirs else UNSET,
        compared=weighed.compared,
        differ=weighed.differ,
        replay=what_came(Replayed(row, weighed.replay)),
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
