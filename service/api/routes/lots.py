"""The routes of lots: opening, readings, strikes, and what is known of them."""

from typing import Annotated, Any

from msgspec import Meta

from service.api import ledger_examples as examples
from service.api.documents import Moment
from service.api.handlers import lots as does
from service.api.ledger_documents import BatchKept, ChangeList, LotList, LotShown, Recorded
from service.api.links import TO_A_LOT
from service.api.problems import CREATED, OK
from service.api.requests import Parameter
from service.api.routes.catalogue import LIMIT
from service.api.routing import Body, Example, Reply, Route
from service.engine.evidence import Evidence
from service.engine.ledger import AttributesAdded, Batch, Opening, RevisionMoved, Strike
from service.engine.ledger.disposing import Disposing
from service.engine.texts import Code, Text
from service.ports import LotOutcome, LotState, Scope

LOT = "/v1/lots/{lot}"
AttributeWanted = Annotated[str, Meta(pattern=r"^[A-Za-z][A-Za-z0-9._-]{0,62}:[^\x00-\x1f\x7f-\x9f]{1,200}\Z", max_length=264)]
ChangeNumber = Annotated[int, Meta(ge=0, le=1_000_000_000)]
OF_ROWS = (
    Parameter("batch", Code, "With rows: the id under which they come.", examples.BATCH),
    Parameter("station", Text, "With rows: where they were measured.", "T3"),
    Parameter("operator", Text, "With rows: who measured.", "night shift"),
    Parameter("instrument", Code, "With rows: by which instrument.", "TT-2"),
    Parameter("measured_at", Moment, "With rows: when.", "2026-11-26T06:31:12Z"),
    Parameter("method", Text, "With rows: by which method.", "ISO 2307"),
)
OF_BATCHES = [Example("two-readings", examples.READINGS), Example("declaration", examples.DECLARED)]
OF_A_LOT = ("not-found", "not-ready")
OF_A_CHANGE = ("not-found", "conflict", "content-differs", "not-ready")


def lot_routes() -> tuple[Route, ...]:
    """Lots and what is recorded of them."""
    return (*_reading_routes(), *_writing_routes(), *_recording_routes())


def _both(
    of: Any,  # noqa: ANN401
    document: object,
    new: str,
    again: str,
    links: tuple[str, ...],
    headers: tuple[str, ...] = (),
) -> list[Reply]:
    """The answers to what is recorded once, however often it is sent."""
    shown = [Example("lot", document)]
    return [Reply(OK, again, of, shown, links=links), Reply(CREATED, new, of, shown, headers=headers, links=links)]


def _reading_routes() -> tuple[Route, ...]:
    page = {"lot": examples.LOT, "changes": [examples.CHANGE]}
    wanted = [
        Parameter("grade", Code, "Only lots of this grade.", examples.OPENING["grade"]),
        Parameter("state", LotState, "Only lots in this state.", "open"),
        Parameter("outcome", LotOutcome, "Only lots whose last verdict has this outcome.", "pass"),
        Parameter("disposition", Disposing, "Only lots that are disposed of so by now.", "hold"),
        Parameter("line", Code, "Only lots from this line.", "L-3"),
        Parameter("from", Moment, "Only lots opened at this moment or later.", "2026-11-01T00:00:00Z"),
        Parameter("until", Moment, "Only lots opened before this moment.", "2026-12-01T00:00:00Z"),
        Parameter("attribute", AttributeWanted, "Only lots with this attribute, as name:value.", "order:4500031877"),
        Parameter("after", Code, "Only lots whose id comes after this one.", examples.LOT),
        LIMIT,
    ]
    return (
        Route(
            method="GET",
            path="/v1/lots",
            operation_id="listLots",
            scope=Scope.READ,
            tag="lots",
            summary="List and search lots",
            description="Lots in the order of their ids. Give `next` as `after` to go on; it is left out at the end.",
            handler=does.list_lots,
            parameters=wanted,
            replies=[
                Reply(OK, "Lots.", LotList, [Example("one", {"lots": [examples.SUMMARY]})], links=("first-lot", "open-lot"))
            ],
            refusals=("not-ready",),
        ),
        Route(
            method="GET",
            path=LOT,
            operation_id="showLot",
            scope=Scope.READ,
            tag="lots",
            summary="Show a lot",
            description="The lot as it is now: by which revision it is judged, its state, and how much was measured.",
            handler=does.show_lot,
            replies=[Reply(OK, "The lot.", LotShown, [Example("lot", examples.SHOWN)], links=TO_A_LOT[1:])],
            refusals=OF_A_LOT,
        ),
        Route(
            method="GET",
            path=f"{LOT}/changes",
            operation_id="listLotChanges",
            scope=Scope.READ,
            tag="lots",
            summary="List the changes of a lot",
            description="Everything that was recorded of it, in order, and by whom; nothing of it is ever changed.",
            handler=does.list_changes,
            parameters=[Parameter("after", ChangeNumber, "Only changes with a greater number.", 1), LIMIT],
            replies=[Reply(OK, "Changes.", ChangeList, [Example("one", page)])],
            refusals=OF_A_LOT,
        ),
        Route(
            method="GET",
            path=f"{LOT}/evidence",
            operation_id="showEvidence",
            scope=Scope.READ,
            tag="lots",
            summary="Show the evidence of a lot",
            description="All that is known of it by now, as one document that a verdict can be asked on; readings that were "
            "struck have the remark `struck`.",
            handler=does.show_evidence,
            replies=[
                Reply(OK, "The document.", Evidence, [Example("lot", {"lot": {"id": examples.LOT, "size": 480}})]),
            ],
            refusals=OF_A_LOT,
        ),
        Route(
            method="GET",
            path=f"{LOT}/batches/{{batch}}",
            operation_id="showBatch",
            scope=Scope.READ,
            tag="lots",
            summary="Show a batch",
            description="A batch or a correction as it was sent, with when and by whom; what was struck since is still in it.",
            handler=does.show_batch,
            replies=[
                Reply(OK, "The batch.", BatchKept, [Example("batch", {**examples.CHANGE, "document": examples.READINGS})]),
            ],
            refusals=OF_A_LOT,
        ),
    )


def _writing_routes() -> tuple[Route, ...]:
    return (
        Route(
            method="PUT",
            path=LOT,
            operation_id="openLot",
            scope=Scope.RECORD,
            tag="lots",
            summary="Open a lot",
            description="From now on it collects what is measured. The revision in force, or the one named, stays the lot's. "
            "Sent again it is answered again; with other content it is refused, and the difference is shown.",
            handler=does.open_lot,
            body=Body(Opening, [Example("lot", examples.OPENING)]),
            replies=_both(
                LotShown,
                examples.SHOWN,
                "The new lot.",
                "It is open already, by the same.",
                (*TO_A_LOT, "attributes", "move"),
                ("Location",),
            ),
            refusals=("not-found", "content-differs", "not-ready"),
        ),
        Route(
            method="POST",
            path=f"{LOT}/attributes",
            operation_id="addAttributes",
            scope=Scope.RECORD,
            tag="lots",
            summary="Add attributes to a lot",
            description="Something of your own by which the lot is found again, at any time, under an id of your own.",
            handler=does.add_attributes,
            body=Body(AttributesAdded, [Example("invoice", examples.ATTRIBUTES)]),
            replies=_both(LotShown, examples.SHOWN, "They are added.", "They were added before.", TO_A_LOT),
            refusals=OF_A_CHANGE,
        ),
        Route(
            method="POST",
            path=f"{LOT}/revision",
            operation_id="moveLot",
            scope=Scope.CLOSE,
            tag="lots",
            summary="Move a lot to a newer revision",
            description="Only to a newer released revision of its grade, and only while it has no verdict.",
            handler=does.move_revision,
            body=Body(RevisionMoved, [Example("newer", examples.MOVE)]),
            replies=_both(LotShown, examples.SHOWN, "It goes by the newer one.", "It was moved before.", TO_A_LOT),
            refusals=OF_A_CHANGE,
        ),
    )


def _recording_routes() -> tuple[Route, ...]:
    return (
        Route(
            method="POST",
            path=f"{LOT}/readings",
            operation_id="recordReadings",
            scope=Scope.RECORD,
            tag="lots",
            summary="Record what was measured",
            description="Readings, counts, declarations and dates under an id of your own: sent again they are counted once, "
            "and other content under the same id is refused. The answer says which requirements have moved, together with "
            "others that were recorded at the same moment. It comes when all is durable. Readings alone may come as "
            "rows, in NDJSON or CSV, with what is said of them in the query.",
            handler=does.record_readings,
            parameters=OF_ROWS,
            body=Body(Batch, OF_BATCHES, texts=examples.ROWS),
            replies=_both(
                Recorded, examples.RECORDED, "It is recorded.", "It was recorded before.", (*TO_A_LOT, "batch", "strike")
            ),
            refusals=OF_A_CHANGE,
        ),
        Route(
            method="POST",
            path=f"{LOT}/strikes",
            operation_id="strike",
            scope=Scope.RECORD,
            tag="lots",
            summary="Strike something out",
            description="It stays in its batch, with the reason beside it. A struck reading stays in the evidence and is "
            "counted as struck; a struck count, declaration or date is left out. Without `of` it is a date told at the "
            "opening.",
            handler=does.strike,
            body=Body(Strike, [Example("slipped", examples.STRIKE)]),
            replies=_both(Recorded, examples.STRUCK, "It is struck.", "It was struck before.", TO_A_LOT),
            refusals=OF_A_CHANGE,
        ),
    )
