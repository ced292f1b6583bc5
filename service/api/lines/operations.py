"""Declarations of the operations on switching, for the OpenAPI document, logs and access control."""

from service.api.lines.documents import LineShown
from service.api.operations import Operation, Reply
from service.api.problems import CREATED, OK
from service.ports.catalogue import Scope
from service.usecases.lines import Decided

SHOW_SWITCHING = Operation(
    name="showSwitching",
    tag="lots",
    summary="Show the severity of inspection of a line's next lot",
    description=(
        "Class by class, by the switching rules of MIL-STD-105E from the line's own lots, in the order in which each had "
        "its first verdict. The newest verdict of a lot counts; lots presented again do not count. A lot is opened with "
        "the severity shown here. The line may be a supplier. Reduced inspection begins by a decision."
    ),
    scope=Scope.READ,
    replies=(Reply(OK, "The line.", LineShown),),
    refusals=("not-found", "not-ready"),
)
DECIDE_INSPECTION = Operation(
    name="decideInspection",
    tag="lots",
    summary="Decide the severity of inspection of a line's next lots",
    description=(
        "For one class, or one requirement by variables, with a reason; lots are counted anew from here. Lots that are "
        "open keep their severity. Where acceptance was discontinued, `tightened` resumes it. `reduced` needs ten lots in "
        "a row that were accepted under normal inspection; whoever decides judges whether production is steady."
    ),
    scope=Scope.DISPOSE,
    body=Decided,
    replies=(
        Reply(OK, "The decision was recorded before; the line.", LineShown),
        Reply(CREATED, "The decision is recorded; the line.", LineShown),
    ),
    refusals=("not-found", "not-ready", "content-differs"),
)
