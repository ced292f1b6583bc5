"""Declarations of the operations on switching, for the OpenAPI document, logs and access control."""

from service.api.lines.documents import LineShown
from service.api.operations import Operation, Reply
from service.api.problems import CREATED, OK
from service.ports.catalogue import Scope
from service.usecases.lines import Decided

SHOW_SWITCHING = Operation(
    name="showSwitching",
    tag="lots",
    summary="Show how severely the next lot of a line is inspected",
    description=(
        "Class by class, by the switching rules of MIL-STD-105E from the line's own lots, in the order in which "
        "each had its first verdict. The newest verdict of a lot counts, and lots presented again count for "
        "nothing; a lot that is opened carries what stands here. The line may be a supplier. Reduced inspection is "
        "begun by a decision."
    ),
    scope=Scope.READ,
    replies=(Reply(OK, "The line.", LineShown),),
    refusals=("not-found", "not-ready"),
)
DECIDE_INSPECTION = Operation(
    name="decideInspection",
    tag="lots",
    summary="Decide how severely the next lots of a line are inspected",
    description=(
        "For one class, or one requirement by variables, and with a reason; all is counted anew from there. Lots "
        "that are open keep what they carry. Where acceptance was discontinued, `tightened` takes it up again. "
        "`reduced` takes ten lots in a row that were accepted under normal inspection; whether production is steady "
        "is for who decides to say."
    ),
    scope=Scope.DISPOSE,
    body=Decided,
    replies=(
        Reply(OK, "It was decided before; the line.", LineShown),
        Reply(CREATED, "It is decided; the line.", LineShown),
    ),
    refusals=("not-found", "not-ready", "content-differs"),
)
