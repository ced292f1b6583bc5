"""Declarations of the operations on claims, for the OpenAPI document, logs and access control."""

from service.api.claims.documents import ClaimAnswer, ClaimList, ClaimShown
from service.api.document.links import TO_A_CLAIM, TO_A_SETTLEMENT
from service.api.operations import Operation, Reply
from service.api.problems import CREATED, OK
from service.engine.documents import Evidence
from service.engine.ledger import Claim, Settlement
from service.ports.catalogue import Scope

LIST_CLAIMS = Operation(
    name="listClaims",
    tag="lots",
    summary="List the claims on a lot",
    description="In the order in which they were recorded, with how each ended.",
    scope=Scope.READ,
    replies=(Reply(OK, "Claims.", ClaimList),),
    refusals=("not-found", "not-ready"),
)
SHOW_CLAIM = Operation(
    name="showClaim",
    tag="lots",
    summary="Show a claim with both its sides",
    description=(
        "The same answer as to the claim itself: their evidence judged by the lot's revision, beside the findings of the "
        "contested verdict, and how the two sides differ in what they did."
    ),
    scope=Scope.READ,
    replies=(Reply(OK, "The claim.", ClaimAnswer, links=TO_A_CLAIM),),
    refusals=("not-found", "not-ready"),
)
SHOW_CLAIM_EVIDENCE = Operation(
    name="showClaimEvidence",
    tag="lots",
    summary="Show the evidence of a claim",
    description="The evidence of the other side; 404 where they gave none. `/v1/verdicts` gives the whole verdict on it.",
    scope=Scope.READ,
    replies=(Reply(OK, "The document.", Evidence),),
    refusals=("not-found", "not-ready"),
)
MAKE_CLAIM = Operation(
    name="makeClaim",
    tag="lots",
    summary="Make a claim on a lot",
    description=(
        "Who makes it, when it was received, which requirements of the grade it contests, and the other side's evidence "
        "if there is any. It is against the lot's newest verdict and changes nothing of it. The answer judges their "
        "evidence by the same revision, and lists for each requirement how the two sides differ in what they did: "
        "samples, packages, units, methods, uncertainties, dates; `ours` is the lot's. The verdict itself is judged again "
        "too. The answer does not say who is right. Flaws of their evidence have pointers below `/evidence`. Sent again, "
        "the request is answered again."
    ),
    scope=Scope.DISPOSE,
    body=Claim,
    replies=(
        Reply(OK, "It was made before.", ClaimAnswer, links=TO_A_CLAIM),
        Reply(CREATED, "It is recorded.", ClaimAnswer, headers=("Location",), links=TO_A_CLAIM),
    ),
    refusals=("not-found", "conflict", "content-differs", "not-ready"),
)
SETTLE_CLAIM = Operation(
    name="settleClaim",
    tag="lots",
    summary="Settle a claim",
    description="How the claim ended, and why. A claim is settled once, and no verdict changes: that takes a correction.",
    scope=Scope.DISPOSE,
    body=Settlement,
    replies=(
        Reply(OK, "It was settled in the same way before.", ClaimShown, links=TO_A_SETTLEMENT),
        Reply(CREATED, "It is settled.", ClaimShown, links=TO_A_SETTLEMENT),
    ),
    refusals=("not-found", "conflict", "not-ready"),
)
