"""Closing lots, and the verdicts that are kept on them."""

from functools import partial

import msgspec
from msgspec import UNSET, Raw

from service.api.closing_documents import VerdictList, VerdictSummary, VerdictVerbatim
from service.api.decoding import Shape, decoded
from service.api.handlers.lots import there_first
from service.api.problems import CREATED, OK, Answer
from service.api.requests import Request
from service.api.service import Service, shown
from service.engine.ledger import Change, Closing, Correction, VerdictKept
from service.usecases.judging import check_readings
from service.usecases.ledger import closing as closes
from service.usecases.ledger import correcting as corrects
from service.usecases.paging import MOST_AT_ONCE, part

CLOSING, CORRECTION = Shape(Closing), Shape(Correction)
FOR_EVER = "private, max-age=31536000, immutable"
_told = msgspec.json.Decoder(VerdictKept).decode


async def close_lot(request: Request, service: Service) -> Answer:
    """Close a lot."""
    lot = request.path["lot"]
    closing = await there_first(service, lot, decoded(request.body, CLOSING))
    closed = await closes.close_lot(service.ledger, service.shelf, lot, closing, request.by.name)
    return recorded(service, closed)


async def correct_lot(request: Request, service: Service) -> Answer:
    """Correct a lot that has a verdict."""
    lot = request.path["lot"]
    correction = await there_first(service, lot, decoded(request.body, CORRECTION))
    check_readings(correction.series, service.most_readings, "/series")
    return recorded(service, await corrects.correct_lot(service.ledger, service.shelf, lot, correction, request.by.name))


def recorded(service: Service, closed: closes.Closed) -> Answer:
    """The answer with the verdict that was asked for, which is counted where it is new."""
    if not closed.is_new:
        return shown(_verbatim(closed.kept))
    row = closed.kept.row
    service.judged.count("verdicts", row.grade, row.outcome)
    location = f"/v1/lots/{row.lot}/verdicts/{row.number}"
    return shown(_verbatim(closed.kept), CREATED, (("location", location),))


async def show_verdict(request: Request, service: Service) -> Answer:
    """A verdict as it is kept."""
    kept = await closes.kept_verdict(service.ledger, *named(request))
    return Answer(OK, shown(_verbatim(kept)).body, keep=FOR_EVER)


async def show_judged_evidence(request: Request, service: Service) -> Answer:
    """The evidence that a verdict rests on, as it was judged."""
    return Answer(OK, (await service.ledger.verdict(*named(request))).evidence, keep=FOR_EVER)


async def list_verdicts(request: Request, service: Service) -> Answer:
    """The verdicts of a lot."""
    lot, limit = request.path["lot"], request.query.get("limit", MOST_AT_ONCE)
    found, last = await part(partial(service.ledger.verdict_changes, lot, request.query.get("after", 0)), limit)
    return shown(VerdictList(lot, [_summary(lot, each) for each in found], _told(last.document).number if last else UNSET))


def named(request: Request) -> tuple[str, int]:
    """Lot and number of the verdict that is asked for."""
    return request.path["lot"], int(request.path["verdict"])


def _verbatim(kept: closes.Kept) -> VerdictVerbatim:
    row, told = kept
    return VerdictVerbatim(
        lot=row.lot,
        number=row.number,
        recorded_at=row.at,
        by=row.by,
        state=told.state,
        reason=told.reason,
        verdict=Raw(row.verdict),
    )


def _summary(lot: str, change: Change) -> VerdictSummary:
    told = _told(change.document)
    return VerdictSummary(
        lot=lot,
        number=told.number,
        recorded_at=change.at,
        by=change.by,
        state=told.state,
        reason=told.reason,
        outcome=told.outcome,
        revision=told.revision,
    )
