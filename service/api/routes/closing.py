"""The routes of closing: verdicts that are kept for ever with what they rest on, and corrections, which bring the next one."""

from typing import Annotated

from msgspec import Meta

from service.api import examples as shown
from service.api import ledger_examples as examples
from service.api.closing_documents import VerdictList, VerdictShown
from service.api.handlers import closing as does
from service.api.links import TO_A_VERDICT
from service.api.problems import CREATED, OK
from service.api.requests import Parameter
from service.api.routes.catalogue import LIMIT
from service.api.routes.judging import judged_example
from service.api.routing import Body, Example, Reply, Route
from service.engine.evidence import Evidence
from service.engine.ledger import Closing, Correction
from service.ports import Scope

LOT = "/v1/lots/{lot}"
VERDICT = f"{LOT}/verdicts/{{verdict}}"
AfterVerdict = Annotated[int, Meta(ge=0, le=999_999_999)]
OF_A_LOT = ("not-found", "not-ready")


def closing_routes() -> tuple[Route, ...]:
    """Closing, and the verdicts that it records."""
    return (*_closing_routes(), *_verdict_routes())


def _kept() -> list[Example]:
    """A verdict as it is kept."""
    return [Example("kept", {**examples.CLOSED, "verdict": judged_example("kept", by_grade=True).document})]


def _closing_routes() -> tuple[Route, ...]:
    return (
        Route(
            method="POST",
            path=f"{LOT}/close",
            operation_id="closeLot",
            scope=Scope.CLOSE,
            tag="lots",
            summary="Close a lot",
            description="Judges all that is known of the lot by its revision and keeps the verdict with its evidence. "
            "However often it is asked for, and by however many at once, there is one: who asks again gets the newest. Where a "
            "binding requirement is undecided for want of readings the lot waits: what comes then is taken, and judged anew "
            "in the same moment. Flaws of the evidence as a whole have pointers below `/evidence`; nothing is kept then.",
            handler=does.close_lot,
            body=Body(Closing, [Example("close", {}), Example("reason", {"reason": "The line was stopped for the day."})]),
            replies=[
                Reply(OK, "It has a verdict already: the newest.", VerdictShown, _kept(), links=TO_A_VERDICT),
                Reply(
                    CREATED, "The verdict, which is kept now.", VerdictShown, _kept(), headers=("Location",), links=TO_A_VERDICT
                ),
            ],
            refusals=OF_A_LOT,
        ),
        Route(
            method="POST",
            path=f"{LOT}/corrections",
            operation_id="correctLot",
            scope=Scope.CLOSE,
            tag="lots",
            summary="Correct a lot that has a verdict",
            description="Strikes what was wrong in its batches and adds what was left out, for a reason, and records the next "
            "verdict in the same moment; the ones before stay as they are. What it adds stands in the evidence as a batch "
            "under its id, so that another correction can strike it. `lot` may tell otherwise what was told. The lot is "
            "closed or waits as the new verdict says. Sent again it is answered again; flaws of the evidence as a whole have "
            "pointers below `/evidence`, and nothing is kept then.",
            handler=does.correct_lot,
            body=Body(Correction, [Example("mistyped", examples.CORRECTION)]),
            replies=[
                Reply(
                    OK,
                    "It was corrected so before: the verdict that came of it.",
                    VerdictShown,
                    _corrected(),
                    links=TO_A_VERDICT,
                ),
                Reply(
                    CREATED,
                    "The verdict that comes of it.",
                    VerdictShown,
                    _corrected(),
                    headers=("Location",),
                    links=TO_A_VERDICT,
                ),
            ],
            refusals=("not-found", "conflict", "content-differs", "not-ready"),
        ),
    )


def _corrected() -> list[Example]:
    """A verdict that a correction brought."""
    [kept] = _kept()
    return [Example("corrected", {**kept.document, "number": 2, "reason": examples.CORRECTION["reason"]})]


def _verdict_routes() -> tuple[Route, ...]:
    listed = {"lot": examples.LOT, "verdicts": [{**examples.CLOSED, "outcome": "pass", "revision": 1}]}
    return (
        Route(
            method="GET",
            path=f"{LOT}/verdicts",
            operation_id="listVerdicts",
            scope=Scope.READ,
            tag="lots",
            summary="List the verdicts of a lot",
            description="In the order in which they were recorded; none of them is ever changed. The last one counts.",
            handler=does.list_verdicts,
            parameters=[Parameter("after", AfterVerdict, "Only verdicts with a greater number.", 0), LIMIT],
            replies=[Reply(OK, "Verdicts.", VerdictList, [Example("one", listed)])],
            refusals=OF_A_LOT,
        ),
        Route(
            method="GET",
            path=VERDICT,
            operation_id="showVerdict",
            scope=Scope.READ,
            tag="lots",
            summary="Show a verdict of a lot",
            description="As it was recorded, byte for byte, for ever.",
            handler=does.show_verdict,
            replies=[Reply(OK, "The verdict.", VerdictShown, _kept())],
            refusals=OF_A_LOT,
        ),
        Route(
            method="GET",
            path=f"{VERDICT}/evidence",
            operation_id="showJudgedEvidence",
            scope=Scope.READ,
            tag="lots",
            summary="Show what a verdict rests on",
            description="The evidence document as it was judged, byte for byte; `/v1/verdicts` gives the same verdict on it.",
            handler=does.show_judged_evidence,
            replies=[Reply(OK, "The document.", Evidence, [Example("lot", shown.EVIDENCE)])],
            refusals=OF_A_LOT,
        ),
    )
