"""The controller of lots: open, list and show them, record readings, strike."""

from functools import partial
from typing import Annotated, Literal

from litestar import Controller, Response
from litestar.di import NamedDependency
from litestar.params import JSONBody
from msgspec import UNSET, Meta
from msgspec.structs import replace

from service.api.answers import created_or_found
from service.api.bodies.receiving import StrictRequest
from service.api.handlers import get, post, put
from service.api.lots import operations
from service.api.lots.batches import BatchDTO, SentBatch, record_batch
from service.api.lots.documents import BatchKept, ChangeList, LotList, LotShown, Recorded
from service.api.lots.shown import (
    Lots,
    batch_shown,
    change_shown,
    find_lots,
    in_period,
    listed,
    lot_shown,
    name_and_value,
    recorded,
)
from service.api.moments import DayOrMoment, Moment
from service.api.operations import documented
from service.api.parameters import BatchId, Limit, LotId, query_parameter
from service.api.strict.shapes import NAME_AND_VALUE
from service.engine.documents import Code, Day, Evidence, RequirementId, Text
from service.engine.ledger import AttributesAdded, Disposing, LotOutcome, LotState, Opening, RevisionMoved, Strike
from service.ports.ledger import LotOrder, LotsQuery
from service.usecases.lots import opening as opens
from service.usecases.lots import readings as records
from service.usecases.paging import MOST_AT_ONCE, part

_Attribute = Annotated[str, Meta(pattern=NAME_AND_VALUE, max_length=264)]
OfGrade = Annotated[Code | None, query_parameter("Only lots of this grade.", "TB-130")]
InState = Annotated[
    list[LotState] | None, query_parameter("Only lots in this state, or in one of these.", ["open", "waiting"], "state")
]
WithOutcome = Annotated[
    list[LotOutcome] | None, query_parameter("Only lots whose last verdict has this outcome, or one of these.", ["fail"])
]
Disposed = Literal[Disposing, "none"]
DisposedSo = Annotated[
    Disposed | None,
    query_parameter("Only lots with this disposition now; `none` for those without one.", "hold"),
]
Failed = Annotated[
    RequirementId | None, query_parameter("Only lots whose last verdict fails this binding requirement.", "strength")
]
FromLine = Annotated[Code | None, query_parameter("Only lots from this line.", "L-3")]
OpenedFrom = Annotated[
    DayOrMoment | None,
    query_parameter(
        "Only lots opened at this moment or later. A day begins in the service's time zone.", "2026-11-01T00:00:00Z", "from"
    ),
]
OpenedUntil = Annotated[
    DayOrMoment | None,
    query_parameter("Only lots opened before this moment. A day is included to its end.", "2026-12-01T00:00:00Z"),
]
MadeFrom = Annotated[Day | None, query_parameter("Only lots made on this day or later.", "2026-11-23")]
MadeUntil = Annotated[Day | None, query_parameter("Only lots made on this day or earlier.", "2026-11-29")]
InOrder = Annotated[
    LotOrder | None,
    query_parameter("By id, or by the moment of opening, the oldest or with `-` the newest first; else by id.", "-opened"),
]
WithAttribute = Annotated[
    _Attribute | None, query_parameter("Only lots with this attribute, as `name:value`.", "order:4500031877")
]
AfterLot = Annotated[Code | None, query_parameter("Only lots that come after this one in the order of the list.", "0412-07")]
_ChangeNumber = Annotated[int, Meta(ge=0, le=1_000_000_000)]
AfterChange = Annotated[_ChangeNumber | None, query_parameter("Only changes with a greater number.", 1)]
RowsBatch = Annotated[Code | None, query_parameter("With rows: the id of the batch.", "T3-000118")]
RowsStation = Annotated[Text | None, query_parameter("With rows: where they were measured.", "T3")]
RowsOperator = Annotated[Text | None, query_parameter("With rows: who measured.", "night shift")]
RowsInstrument = Annotated[Code | None, query_parameter("With rows: with which instrument.", "TT-2")]
RowsMeasuredAt = Annotated[Moment | None, query_parameter("With rows: when they were measured.", "2026-11-26T06:31:12Z")]
RowsMethod = Annotated[Text | None, query_parameter("With rows: by which method.", "ISO 2307")]


class LotController(Controller):
    """Lots and their readings."""

    path = "/v1/lots"

    @get(**documented(operations.LIST_LOTS))
    async def list_lots(
        self,
        lots: NamedDependency[Lots],
        grade: OfGrade = None,
        in_state: InState = None,
        outcome: WithOutcome = None,
        disposition: DisposedSo = None,
        line: FromLine = None,
        from_: OpenedFrom = None,
        until: OpenedUntil = None,
        attribute: WithAttribute = None,
        failed: Failed = None,
        made_from: MadeFrom = None,
        made_until: MadeUntil = None,
        order: InOrder = None,
        after: AfterLot = None,
        limit: Limit = None,
    ) -> LotList:
        """List the lots that the query selects."""
        of_lots = LotsQuery(grade=grade, line=line, disposition=disposition, failed=failed, after=after or "")
        wanted = replace(of_lots, state=tuple(in_state or ()), outcome=tuple(outcome or ()))
        wanted = replace(wanted, order=order or "lot", attribute=attribute and name_and_value(attribute))
        within = in_period(wanted, from_, until, (made_from, made_until), lots.time_zone)
        found, last = await part(partial(find_lots, lots.ledger, within), limit or MOST_AT_ONCE)
        return LotList([listed(row) for row in found], last.lot if last else UNSET)

    @get("/{lot:str}", **documented(operations.SHOW_LOT))
    async def show_lot(self, lot: LotId, lots: NamedDependency[Lots]) -> LotShown:
        """Show a lot as it is now."""
        return await lot_shown(lots, lot)

    @get("/{lot:str}/changes", **documented(operations.LIST_LOT_CHANGES))
    async def list_changes(
        self, lot: LotId, lots: NamedDependency[Lots], after: AfterChange = None, limit: Limit = None
    ) -> ChangeList:
        """List the changes of a lot."""
        found, last = await part(partial(lots.ledger.changes, lot, after or 0), limit or MOST_AT_ONCE)
        return ChangeList(lot, [change_shown(lot, change) for change in found], last.number if last else UNSET)

    @get("/{lot:str}/evidence", **documented(operations.SHOW_EVIDENCE))
    async def show_evidence(self, lot: LotId, lots: NamedDependency[Lots]) -> Evidence:
        """Show the evidence of a lot, folded from all its changes."""
        return (await lots.ledger.folded(lot)).evidence()

    @get("/{lot:str}/batches/{batch:str}", **documented(operations.SHOW_BATCH))
    async def show_batch(self, lot: LotId, batch: BatchId, lots: NamedDependency[Lots]) -> BatchKept:
        """Show a batch as it is stored."""
        return batch_shown(lot, batch, await lots.ledger.change(lot, batch))

    @put("/{lot:str}", **documented(operations.OPEN_LOT))
    async def open_lot(
        self, lot: LotId, data: JSONBody[Opening], lots: NamedDependency[Lots], request: StrictRequest
    ) -> Response[LotShown]:
        """Open a lot."""
        done = await opens.open_lot(lots.ledger, lots.grade_cache, lot, data, request.user.name, lots.lines)
        location = f"/v1/lots/{lot}" if done.is_new else ""
        return created_or_found(await lot_shown(lots, lot), is_new=done.is_new, location=location)

    @post("/{lot:str}/attributes", **documented(operations.ADD_ATTRIBUTES))
    async def add_attributes(
        self, lot: LotId, data: JSONBody[AttributesAdded], lots: NamedDependency[Lots], request: StrictRequest
    ) -> Response[LotShown]:
        """Add attributes to a lot."""
        done = await opens.add_attributes(lots.ledger, lot, data, request.user.name)
        return created_or_found(await lot_shown(lots, lot), is_new=done.is_new)

    @post("/{lot:str}/revision", **documented(operations.MOVE_LOT))
    async def move(
        self, lot: LotId, data: JSONBody[RevisionMoved], lots: NamedDependency[Lots], request: StrictRequest
    ) -> Response[LotShown]:
        """Move a lot to a newer revision of its grade."""
        done = await opens.move_revision(lots.ledger, lots.grade_cache, lot, data, request.user.name, lots.lines)
        return created_or_found(await lot_shown(lots, lot), is_new=done.is_new)

    @post("/{lot:str}/readings", dto=BatchDTO, **documented(operations.RECORD_READINGS))
    async def record(
        self,
        lot: LotId,
        data: JSONBody[SentBatch],
        lots: NamedDependency[Lots],
        request: StrictRequest,
        batch: RowsBatch = None,
        station: RowsStation = None,
        operator: RowsOperator = None,
        instrument: RowsInstrument = None,
        measured_at: RowsMeasuredAt = None,
        method: RowsMethod = None,
    ) -> Response[Recorded]:
        """Record a batch, counted once. The query's parameters are for rows; BatchDTO has put them into the batch."""
        return recorded(lots, await record_batch(lots, lot, data, request.user.name), data.batch)

    @post("/{lot:str}/strikes", **documented(operations.STRIKE))
    async def strike(
        self, lot: LotId, data: JSONBody[Strike], lots: NamedDependency[Lots], request: StrictRequest
    ) -> Response[Recorded]:
        """Strike a reading, count, declaration or date."""
        return recorded(lots, await records.strike(lots.ledger, lots.grade_cache, lot, data, request.user.name))
