"""The routes of lines: how severely their lots are inspected, and a manager's decisions on it."""

from service.api import line_examples as examples
from service.api.handlers import lines as does
from service.api.line_documents import LineShown
from service.api.problems import CREATED, OK
from service.api.routing import Body, Example, Reply, Route
from service.ports import Scope
from service.usecases.ledger.lines import Decided

LINE = "/v1/grades/{grade}/switching/{line}"
REFUSALS = ("not-found", "not-ready")


def line_routes() -> tuple[Route, ...]:
    """What the history of a line brings, and what is decided about it."""
    return (
        Route(
            method="GET",
            path=LINE,
            operation_id="showSwitching",
            scope=Scope.READ,
            tag="lots",
            summary="Show how severely the next lot of a line is inspected",
            description="Class by class, by the switching rules of MIL-STD-105E from the line's own lots, in the order in "
            "which each had its first verdict. The newest verdict of a lot counts, and lots presented again count for "
            "nothing; a lot that is opened carries what stands here. The line may be a supplier. Reduced inspection is begun "
            "by a decision.",
            handler=does.show_line,
            replies=[Reply(OK, "The line.", LineShown, [Example("tightened", examples.SHOWN)])],
            refusals=REFUSALS,
        ),
        Route(
            method="POST",
            path=f"{LINE}/override",
            operation_id="decideInspection",
            scope=Scope.DISPOSE,
            tag="lots",
            summary="Decide how severely the next lots of a line are inspected",
            description="For one class, or one requirement by variables, and with a reason; all is counted anew from there. "
            "Lots that are open keep what they carry. Where acceptance was discontinued, `tightened` takes it up again.",
            handler=does.decide_inspection,
            body=Body(Decided, [Example("normal", examples.DECISION)]),
            replies=[
                Reply(OK, "It was decided before; the line.", LineShown, [Example("decided", examples.DECIDED)]),
                Reply(CREATED, "It is decided; the line.", LineShown, [Example("decided", examples.DECIDED)]),
            ],
            refusals=(*REFUSALS, "content-differs"),
        ),
    )
