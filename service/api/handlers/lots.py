"""Lots: opening them, what was told of them, and where they stand."""

from collections.abc import Awaitable, Callable
from functools import partial
from typing import Any, TypeVar

import msgspec
from msgspec import UNSET, UnsetType

from service.api.decoding import NotJsonError, Shape, decoded
from service.api.ledger_documents import (
    BatchKept,
    ChangeList,
    ChangeShown,
    CountedOnce,
    InstrumentSeen,
    LotList,
    LotShown,
    LotSummary,
    ReadingsSoFar,
    Recorded,
)
from service.api.moments import in_utc
from service.api.problems import CREATED, OK, Answer
from service.api.requests import Request
from service.api.rows import CSV, NDJSON, ReadingRow, columns_of, rows_of_csv, rows_of_ndjson
from service.api.service import Service, shown
from service.engine.flaws import Flaw, FlawedDocumentError, quoted
from service.engine.ledger import AttributesAdded, Batch, Change, Opening, RevisionMoved, Strike, Told
from service.engine.ledger.documents import Attribute
from service.engine.ledger.folding import BATCH, CORRECTION
from service.ports import ChangeUnknownError, LotRow, LotsWanted
from service.usecases.against import held_by
from service.usecases.apart import apart
from service.usecases.judging import check_readings
from service.usecases.ledger import opening as opens
from service.usecases.ledger import readings as records
from service.usecases.paging import MOST_AT_ONCE, part

T = TypeVar("T")
OPENING, ATTRIBUTES, MOVED = Shape(Opening), Shape(AttributesAdded), Shape(RevisionMoved)
BATCHES, STRIKE = Shape(Batch), Shape(Strike)
_ROWS = {NDJSON: rows_of_ndjson, CSV: rows_of_csv}
_told = msgspec.json.Decoder(Told).decode
MANY_ROWS = 1024 * 1024
"""Bytes that take some tens of milliseconds; shorter batches need not wait for a plan that somebody has searched for."""


async def open_lot(request: Request, service: Service) -> Answer:
    """Open a lot."""
    lot, opening = request.path["lot"], await decoded(request.body, OPENING)
    done = await opens.open_lot(service.ledger, service.shelf, lot, opening, request.by.name, service.lines)
    headers = (("location", f"/v1/lots/{lot}"),) if done.is_new else ()
    return shown(await _lot(service, lot), CREATED if done.is_new else OK, headers)


async def show_lot(request: Request, service: Service) -> Answer:
    """A lot as it is now."""
    return shown(await _lot(service, request.path["lot"]))


async def list_lots(request: Request, service: Service) -> Answer:
    """Lots that are asked for."""
    query: dict[str, Any] = dict(request.query)
    limit = query.pop("limit", MOST_AT_ONCE)
    named = query.pop("attribute", None)
    query |= {f"opened_{name}": in_utc(query.pop(name), f"/{name}") for name in ("from", "until") if name in query}
    attribute = tuple(named.split(":", 1)) if named else None
    found, last = await part(lambda most: service.ledger.lots(LotsWanted(**query, attribute=attribute, limit=most)), limit)
    return shown(LotList([_summary(row) for row in found], last.lot if last else UNSET))


async def list_changes(request: Request, service: Service) -> Answer:
    """The changes of a lot."""
    lot, limit = request.path["lot"], request.query.get("limit", MOST_AT_ONCE)
    found, last = await part(partial(service.ledger.changes, lot, request.query.get("after", 0)), limit)
    return shown(ChangeList(lot, [_change(lot, each) for each in found], last.number if last else UNSET))


async def show_evidence(request: Request, service: Service) -> Answer:
    """All that is known of a lot."""
    return shown((await service.ledger.folded(request.path["lot"])).evidence())


async def show_batch(request: Request, service: Service) -> Answer:
    """A batch as it is kept."""
    lot, batch = request.path["lot"], request.path["batch"]
    change = await service.ledger.change(lot, batch)
    if change.kind not in {BATCH, CORRECTION}:
        raise ChangeUnknownError(f"{quoted(batch)} is no batch of lot {lot}, but a change of another kind.")
    of = _change(lot, change)
    document = msgspec.json.decode(change.document)
    return shown(BatchKept(of.number, of.at, of.by, of.kind, of.id, of.digest, document))


async def add_attributes(request: Request, service: Service) -> Answer:
    """Further attributes of a lot."""
    lot = request.path["lot"]
    added = await there_first(service, lot, decoded(request.body, ATTRIBUTES))
    done = await opens.add_attributes(service.ledger, lot, added, request.by.name)
    return shown(await _lot(service, lot), CREATED if done.is_new else OK)


async def move_revision(request: Request, service: Service) -> Answer:
    """A lot judged by a newer revision."""
    lot = request.path["lot"]
    moved = await there_first(service, lot, decoded(request.body, MOVED))
    done = await opens.move_revision(service.ledger, service.shelf, lot, moved, request.by.name, service.lines)
    return shown(await _lot(service, lot), CREATED if done.is_new else OK)


async def record_readings(request: Request, service: Service) -> Answer:
    """A batch, counted once."""
    lot = request.path["lot"]
    read = _ROWS.get((request.headers.get("content-type") or "").partition(";")[0].strip().lower())
    if read is not None:
        return await _record_rows(request, service, lot, read)
    batch = await there_first(service, lot, _sent_whole(request))
    check_readings(batch.series, service.most_readings, "/series")
    taken = await records.record_batch(service.ledger, service.shelf, lot, batch, request.by.name)
    return _taken(service, taken, batch)


async def _sent_whole(request: Request) -> Batch:
    """A batch in JSON, which says itself what else the query says."""
    text = "With JSON this stands in the body. Move it there."
    if flaws := [Flaw("not-with-json", text, f"/{name}") for name in request.query]:
        raise FlawedDocumentError(flaws)
    return await decoded(request.body, BATCHES)


async def _record_rows(request: Request, service: Service, lot: str, read: Callable[[bytes], list[ReadingRow]]) -> Answer:
    """A batch that comes a row at a time; its flaws are told by the rows."""
    about: dict[str, Any] = dict(request.query)
    method = about.pop("method", UNSET)
    columns = columns_of(await there_first(service, lot, _rows(read, request)), method)
    batch = Batch(**about, series=columns.series)
    check_readings(batch.series, service.most_readings, "")
    try:
        taken = await records.record_batch(service.ledger, service.shelf, lot, batch, request.by.name)
    except FlawedDocumentError as error:
        raise FlawedDocumentError([columns.in_rows(flaw) for flaw in error.flaws]) from error
    return _taken(service, taken, batch)


async def _rows(read: Callable[[bytes], list[ReadingRow]], request: Request) -> list[ReadingRow]:
    """The rows of a body under an id in the query."""
    if "batch" not in request.query:
        text = "Rows do not say under which id they come. Add `batch` to the query."
        raise FlawedDocumentError([Flaw("missing-parameter", text, "/batch")])
    return read(request.body) if len(request.body) < MANY_ROWS else await apart(read, request.body)


async def strike(request: Request, service: Service) -> Answer:
    """Something of a batch struck out."""
    lot = request.path["lot"]
    struck = await there_first(service, lot, decoded(request.body, STRIKE))
    return _taken(service, await records.strike(service.ledger, service.shelf, lot, struck, request.by.name))


async def there_first(service: Service, lot: str, reading: Awaitable[T]) -> T:
    """What is read; where that has flaws, a lot that is not there is told before them."""
    try:
        return await reading
    except (FlawedDocumentError, NotJsonError):
        await service.ledger.row(lot)
        raise


def _taken(service: Service, taken: records.Taken, batch: Batch | None = None) -> Answer:
    """The answer to what was recorded; a verdict that was recorded with it is counted."""
    standing, row = taken.standing, taken.recorded.decided.row
    if taken.is_new and taken.verdict and row.outcome:
        service.judged.count("verdicts", row.grade, row.outcome)
    requirements = standing.moved if taken.is_new else standing.requirements.values()
    document = Recorded(
        lot=row.lot,
        grade=row.grade,
        revision=taken.held.number,
        specification=taken.held.compiled.digest,
        evidence=standing.evidence,
        changes=standing.changes,
        change=taken.recorded.number,
        batch=batch.batch if batch else UNSET,
        counted=CountedOnce(batch.readings) if batch else UNSET,
        instrument=_seen(taken, batch) if batch else UNSET,
        state=row.state,
        verdict=taken.verdict or UNSET,
        requirements=list(requirements),
        flaws=list(standing.flaws) or UNSET,
    )
    return shown(document, CREATED if taken.is_new else OK)


def _seen(taken: records.Taken, batch: Batch) -> InstrumentSeen | UnsetType:
    """What was known of its instrument when it was recorded, the first time."""
    marks = taken.recorded.folded.marks.get(batch.batch)
    return InstrumentSeen(batch.instrument or "", marks.version, marks.calibration) if marks else UNSET


async def _lot(service: Service, lot: str) -> LotShown:
    """A lot with all that is to be seen at a glance."""
    row, folded = await service.ledger.row(lot), await service.ledger.folded(lot)
    attributes = [Attribute(name, value) for name, value in await service.ledger.attributes(lot)]
    held = await held_by(service.shelf, row.grade, row.revision, "")
    readings = [ReadingsSoFar(name, taken, struck) for name, (taken, struck) in folded.readings.items()]
    named = msgspec.structs.asdict(_summary(row))
    disposed = folded.handled.dispositions
    return LotShown(
        **named,
        specification=held.compiled.digest,
        told=_told(row.told),
        inspections=folded.carried or UNSET,
        readings=readings,
        attributes=attributes,
        verdicts=len(folded.verdicts),
        is_of_earlier_verdict=disposed[-1].is_of_earlier_verdict(len(folded.verdicts)) if disposed else UNSET,
    )


def _summary(row: LotRow) -> LotSummary:
    return LotSummary(
        lot=row.lot,
        grade=row.grade,
        revision=row.revision,
        state=row.state,
        changes=row.changes,
        opened_at=row.opened_at,
        line=row.line or UNSET,
        closed_at=row.closed_at or UNSET,
        outcome=row.outcome or UNSET,
        disposition=row.disposition or UNSET,
    )


def _change(lot: str, change: Change) -> ChangeShown:
    return ChangeShown(change.number, change.at, change.by, change.kind, change.key or lot, change.digest)
