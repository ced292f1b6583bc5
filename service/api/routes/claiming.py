"""The routes of claims: what others hold against a lot, and what both sides' evidence says to it."""

from datetime import date
from functools import cache

import msgspec

from service.api import claiming_examples as examples
from service.api import examples as shown
from service.api.claiming_documents import ClaimAnswer, ClaimList, ClaimShown
from service.api.handlers import claiming as does
from service.api.links import TO_A_CLAIM, TO_A_SETTLEMENT
from service.api.problems import CREATED, OK
from service.api.requests import Parameter
from service.api.routes.catalogue import LIMIT
from service.api.routes.disposing import After
from service.api.routes.judging import example_grade
from service.api.routing import Body, Example, Reply, Route
from service.engine import ENGINE
from service.engine.comparing import Side, Sides, compared, differing, received_later
from service.engine.evidence import Evidence
from service.engine.judging import judge
from service.engine.ledger.claiming import Claim, Settlement
from service.ports import Scope

CLAIMS = "/v1/lots/{lot}/claims"
CLAIM = f"{CLAIMS}/{{claim}}"
OF_A_LOT = ("not-found", "not-ready")


def claiming_routes() -> tuple[Route, ...]:
    """Claims, and how they end."""
    return (*_reading_routes(), *_writing_routes())


@cache
def _answered() -> list[Example]:
    """The claim of the examples beside the lot of the examples, both judged by the engine."""
    sides = Sides(*(_side(each) for each in (shown.EVIDENCE, examples.EVIDENCE)))
    names = examples.CLAIM["requirements"]
    differ = [*differing(example_grade(), sides, names), *received_later(date(2027, 6, 1), date(2026, 11, 26))]
    document = {
        "lot": examples.EVIDENCE["lot"]["id"],
        "claim": examples.CLAIMED,
        "grade": shown.GRADE,
        "revision": 1,
        **{
            whose: {"outcome": side.verdict.outcome, "evidence": side.verdict.evidence}
            for whose, side in zip(("ours", "theirs"), sides, strict=True)
        },
        "compared": msgspec.to_builtins(compared(example_grade(), *sides, names)),
        "differ": msgspec.to_builtins(differ),
        "replay": {
            "lot": examples.EVIDENCE["lot"]["id"],
            "number": 1,
            "agrees": True,
            "differences": [],
            "engine": {"now": ENGINE, "then": ENGINE},
        },
    }
    return [Example("weaker", document)]


def _side(document: object) -> Side:
    evidence = msgspec.convert(document, Evidence)
    return Side(evidence, judge(example_grade(), evidence, shown.GRADE, 1))


def _reading_routes() -> tuple[Route, ...]:
    listed = {"lot": examples.EVIDENCE["lot"]["id"], "claims": [examples.SETTLED]}
    return (
        Route(
            method="GET",
            path=CLAIMS,
            operation_id="listClaims",
            scope=Scope.READ,
            tag="lots",
            summary="List the claims on a lot",
            description="In the order in which they were recorded, with how each ended.",
            handler=does.list_claims,
            parameters=[Parameter("after", After, "Only those behind the first so many.", 0), LIMIT],
            replies=[Reply(OK, "Claims.", ClaimList, [Example("one", listed)])],
            refusals=OF_A_LOT,
        ),
        Route(
            method="GET",
            path=CLAIM,
            operation_id="showClaim",
            scope=Scope.READ,
            tag="lots",
            summary="Show a claim with both its sides",
            description="As the answer to the claim itself: their evidence judged by the revision that the lot was judged by, "
            "beside what was found then, and where both differ in what was done.",
            handler=does.show_claim,
            replies=[Reply(OK, "The claim.", ClaimAnswer, _answered(), links=TO_A_CLAIM)],
            refusals=OF_A_LOT,
        ),
        Route(
            method="GET",
            path=f"{CLAIM}/evidence",
            operation_id="showClaimEvidence",
            scope=Scope.READ,
            tag="lots",
            summary="Show the evidence of a claim",
            description="What the other side gave; 404 where they gave none. `/v1/verdicts` gives the whole verdict on it.",
            handler=does.show_claim_evidence,
            replies=[Reply(OK, "The document.", Evidence, [Example("theirs", examples.EVIDENCE)])],
            refusals=OF_A_LOT,
        ),
    )


def _writing_routes() -> tuple[Route, ...]:
    settled = [Example("settled", examples.SETTLED)]
    return (
        Route(
            method="PUT",
            path=CLAIM,
            operation_id="makeClaim",
            scope=Scope.DISPOSE,
            tag="lots",
            summary="Make a claim on a lot",
            description="From whom, received when, about which requirements of the grade, and the other side's evidence where "
            "there is any. It is against the lot's newest verdict and alters nothing of it. The answer judges their evidence "
            "by the same revision, and says for each requirement how both sides differ in what they did, `ours` being that of "
            "the lot: samples, packages, units, methods, uncertainties, dates. The verdict itself is judged again beside it. "
            "Who is right it does not say. Flaws of their evidence have pointers below `/evidence`. Sent again it is answered "
            "again.",
            handler=does.put_claim,
            body=Body(Claim, [Example("weaker", examples.CLAIM)]),
            replies=[
                Reply(OK, "It was made before.", ClaimAnswer, _answered(), links=TO_A_CLAIM),
                Reply(CREATED, "It is kept.", ClaimAnswer, _answered(), headers=("Location",), links=TO_A_CLAIM),
            ],
            refusals=("not-found", "conflict", "content-differs", "not-ready"),
        ),
        Route(
            method="POST",
            path=f"{CLAIM}/settle",
            operation_id="settleClaim",
            scope=Scope.DISPOSE,
            tag="lots",
            summary="Settle a claim",
            description="How it ended, and why: once. It alters no verdict; whoever has to correct one records a correction.",
            handler=does.settle_claim,
            body=Body(Settlement, [Example("shared", examples.SETTLEMENT)]),
            replies=[
                Reply(OK, "It was settled so before.", ClaimShown, settled, links=TO_A_SETTLEMENT),
                Reply(CREATED, "It is settled.", ClaimShown, settled, links=TO_A_SETTLEMENT),
            ],
            refusals=("not-found", "conflict", "not-ready"),
        ),
    )
