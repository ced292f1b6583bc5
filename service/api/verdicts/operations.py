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
        "Judges all that is recorded of the lot by its revision, and stores the verdict with its evidence. However often "
        "this is sent, and by however many at once, there is one verdict: who asks again gets the newest. Where a binding "
        "requirement is undecided because readings are missing, the lot waits: readings that arrive then are recorded, "
        "and the lot is judged again at once. Flaws of the evidence as a whole have pointers below `/evidence`; nothing "
        "is stored then."
    ),
    scope=Scope.CLOSE,
    body=Closing,
    replies=(
        Reply(OK, "The lot already has a verdict: the newest one.", VerdictShown, links=TO_A_VERDICT),
        Reply(CREATED, "The verdict, which is stored now.", VerdictShown, headers=("Location",), links=TO_A_VERDICT),
    ),
    refusals=("not-found", "conflict", "not-ready"),
)
CORRECT_LOT = Operation(
    name="correctLot",
    tag="lots",
    summary="Correct a lot that has a verdict",
    description=(
        "Strikes what was wrong in its batches and adds what was left out, with a reason, and records the next verdict at "
        "once; the verdicts before stay as they are. What is added is in the evidence as a batch under the correction's "
        "id, so that another correction can strike it. `lot` may replace what was stated of the lot. Whether the lot is "
        "closed or waits depends on the new verdict. Sent again, the request is answered again. Flaws of the evidence as "
        "a whole have pointers below `/evidence`; nothing is stored then."
    ),
    scope=Scope.CLOSE,
    body=Correction,
    replies=(
        Reply(OK, "This correction was recorded before: its verdict.", VerdictShown, links=TO_A_VERDICT),
        Reply(CREATED, "The verdict after the correction.", VerdictShown, headers=("Location",), links=TO_A_VERDICT),
    ),
    refusals=("not-found", "conflict", "content-differs", "not-ready"),
)
LIST_VERDICTS = Operation(
    name="listVerdicts",
    tag="lots",
    summary="List the verdicts of a lot",
    description="In the order in which they were recorded; none of them ever changes. The last one counts.",
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
    summary="Show the evidence of a verdict",
    description="The evidence document as it was judged, byte for byte; `/v1/verdicts` gives the same verdict on it.",
    scope=Scope.READ,
    replies=(Reply(OK, "The document.", Evidence),),
    refusals=("not-found", "not-ready"),
)
REPLAY_VERDICT = Operation(
    name="replayVerdict",
    tag="lots",
    summary="Judge the evidence of a verdict again",
    description=(
        "Judges the stored evidence by the same revision, withdrawn or not, with the engine of today. Outcome, numbers, "
        "codes, parameters and pointers are compared; wording is not. The stored verdict stays as it is, whatever the "
        "result; nothing is recorded."
    ),
    scope=Scope.JUDGE,
    replies=(Reply(OK, "The result of the comparison.", ReplayShown),),
    refusals=("not-found", "not-ready"),
)
