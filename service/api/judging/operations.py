"""Declarations of the operations on judgements that are not stored, for the OpenAPI document, logs and access control."""

from service.api.judging.documents import ReadingToCheck
from service.api.operations import Operation, Reply
from service.api.problems import OK
from service.engine.documents import CheckAnswer, ToDraw, Verdict
from service.engine.grade import Specification
from service.engine.grading import Gradings
from service.ports.catalogue import Scope
from service.usecases.grades import Review
from service.usecases.judging import DrawRequest, LotToGrade, LotToJudge

CHECK_READING = Operation(
    name="checkReading",
    tag="judging",
    summary="Judge one reading",
    description=(
        "Whether a reading is within the limits that the grade has for single readings. Where it has none, a reading "
        "never passes; a requirement on means is listed in `with_others`, with the margin that the reading by itself "
        "would have. Without `revision`, the revision in force now is used, and the answer names it. With `lot` in "
        "place of `grade`, the lot's own revision is used, and its readings that are already outside count against the "
        "number that may be: those that this replica has recorded, and those that others had recorded half a second "
        "before."
    ),
    scope=Scope.CHECK,
    body=ReadingToCheck,
    replies=(Reply(OK, "The result for the reading.", CheckAnswer, headers=("X-Catalogue-Stale",)),),
    refusals=("not-ready",),
    # Checks are too many to be read as log lines, and a line would cost more than the check itself.
    logs_refusals_only=True,
)
JUDGE_LOT = Operation(
    name="judgeLot",
    tag="judging",
    summary="Judge a lot",
    description=(
        "The verdict on a lot, with the reasons for every finding. Nothing is stored: the same request gets the same "
        "answer, byte for byte. A verdict is on the specimens tested; a breaking force is not a working load."
    ),
    scope=Scope.JUDGE,
    body=LotToJudge,
    replies=(Reply(OK, "The verdict.", Verdict, headers=("X-Catalogue-Stale",)),),
    refusals=("not-ready",),
)
DRAW_LOT = Operation(
    name="drawLot",
    tag="judging",
    summary="Show what to draw from a lot",
    description=(
        "Before a lot is tested: for each requirement how many packages to draw, how many readings to take, and at how "
        "many nonconforming ones it is accepted or rejected. One draw of `packages` serves all first samples. Where a "
        "sample has no size for this lot, the requirement is listed in `undecided` with the reason."
    ),
    scope=Scope.JUDGE,
    body=DrawRequest,
    replies=(Reply(OK, "What to draw.", ToDraw, headers=("X-Catalogue-Stale",)),),
    refusals=("not-ready",),
)
GRADE_LOT = Operation(
    name="gradeLot",
    tag="judging",
    summary="Judge a lot by several grades",
    description=(
        "Which grade a lot can be sold as: the verdict by every grade of an article that is in force, or by the grades "
        "listed. Passes come first, then undecided, then failures; within each, the largest least margin relative to "
        "its limit comes first. A grade that the evidence does not fit is listed in `not_judged`."
    ),
    scope=Scope.JUDGE,
    body=LotToGrade,
    replies=(Reply(OK, "The verdicts, the best one first.", Gradings, headers=("X-Catalogue-Stale",)),),
    refusals=("not-ready",),
)
REVIEW_SPECIFICATION = Operation(
    name="reviewSpecification",
    tag="judging",
    summary="Review a specification",
    description="Every flaw of a specification, or advice where it has none. Any JSON is answered; nothing is stored.",
    scope=Scope.AUTHOR,
    body=Specification,
    takes_any_json=True,
    replies=(Reply(OK, "The flaws and the advice; both lists may be empty.", Review),),
)
