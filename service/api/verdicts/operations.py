"""Declarations of the operations on stored verdicts, for the OpenAPI document, logs and access control."""

from service.api.document.links import TO_A_VERDICT
from service.api.operations import Operation, Reply
from service.api.problems import CREATED, OK
from service.api.verdicts.documents import VerdictList, VerdictShown
from service.api.verdicts.replay_documents import ReplayShown
from service.engine.documents import Evidence
from service.engine.ledger import Closing, Correction
from service.ports.catalogue import Scope

CLOSE_LOT = Operation(
    name="closeLot",
    tag="lots",
    summary="Close a lot",
    description=(
        "Judges all that is known of the lot by its revision and keeps the verdict with its evidence. However "
        "often it is asked for, and by however many at once, there is one: who asks again gets the newest. Where a "
        "binding requirement is undecided for want of readings the lot waits: what comes then is taken, and "
        "judged anew in the same moment. Flaws of the evidence as a whole have pointers below `/evidence`; nothing "
        "is kept then."
    ),
    scope=Scope.CLOSE,
    body=Closing,
    replies=(
        Reply(OK, "It has a verdict already: the newest.", VerdictShown, links=TO_A_VERDICT),
        Reply(CREATED, "The verdict, which is kept now.", VerdictShown, headers=("Location",), links=TO_A_VERDICT),
    ),
    refusals=("not-found", "conflict", "not-ready"),
)
CORRECT_LOT = Operation(
    name="correctLot",
    tag="lots",
    summary="Correct a lot that has a verdict",
    description=(
        "Strikes what was wrong in its batches and adds what was left out, for a reason, and records the next "
        "verdict in the same moment; the ones before stay as they are. What it adds stands in the evidence as a "
        "batch under its id, so that another correction can strike it. `lot` may tell otherwise what was told. The "
        "lot is closed or waits as the new verdict says. Sent again it is answered again; flaws of the evidence "
        "as a whole have pointers below `/evidence`, and nothing is kept then."
    ),
    scope=Scope.CLOSE,
    body=Correction,
    replies=(
        Reply(OK, "It was corrected so before: the verdict that came of it.", VerdictShown, links=TO_A_VERDICT),
        Reply(CREATED, "The verdict that comes of it.", VerdictShown, headers=("Location",), links=TO_A_VERDICT),
    ),
    refusals=("not-found", "conflict", "content-differs", "not-ready"),
)
LIST_VERDICTS = Operation(
    name="listVerdicts",
    tag="lots",
    summary="List the verdicts of a lot",
    description="In the order in which they were recorded; none of them is ever changed. The last one counts.",
    scope=Scope.READ,
    replies=(Reply(OK, "Verdicts.", VerdictList),),
    refusals=("not-found", "not-ready"),
)
SHOW_VERDICT = Operation(
    name="showVerdict",
    tag="lots",
    summary="Show a verdict of a lot",
    description="As it was recorded, byte for byte, for ever.",
    scope=Scope.READ,
    replies=(Reply(OK, "The verdict.", VerdictShown),),
    refusals=("not-found", "not-ready"),
)
SHOW_JUDGED_EVIDENCE = Operation(
    name="showJudgedEvidence",
    tag="lots",
    summary="Show what a verdict rests on",
    description="The evidence document as it was judged, byte for byte; `/v1/verdicts` gives the same verdict on it.",
    scope=Scope.READ,
    replies=(Reply(OK, "The document.", Evidence),),
    refusals=("not-found", "not-ready"),
)
REPLAY_VERDICT = Operation(
    name="replayVerdict",
    tag="lots",
    summary="Judge again what a verdict rests on",
    description=(
        "From the evidence that is kept, by the revision of then, withdrawn or not, and by the rules of now. "
        "Outcome, numbers, codes, parameters and pointers are compared, wording is not. The kept verdict stays as "
        "it is, whatever comes of it; nothing is recorded."
    ),
    scope=Scope.JUDGE,
    replies=(Reply(OK, "What came of it.", ReplayShown),),
    refusals=("not-found", "not-ready"),
)
