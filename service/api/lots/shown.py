"""Answers about lots: lots, their changes, their batches."""

from collections.abc import Sequence
from datetime import UTC, tzinfo
from typing import Any

import msgspec
from litestar import Response
from msgspec import UNSET, Struct, UnsetType
from msgspec.structs import replace

from service.api.answers import created_or_found
from service.api.lots.documents import (
    BatchKept,
    ChangeShown,
    CountedOnce,
    InstrumentSeen,
    LotShown,
    LotSummary,
    ReadingsSoFar,
    Recorded,
)
from service.api.moments import Period, days_flaws, period_of
from service.api.watching.judgements import JudgementCounter
from service.engine.documents import Flaw, FlawedDocumentError, quoted
from service.engine.ledger import BATCH, CORRECTION, Attribute, Batch, Change, LotRow, Told
from service.ports.ledger import ChangeUnknownError, Ledger, ListedLot, LotsQuery, LotUnknownError
from service.usecases.grades import GradeCache
from service.usecases.judging import held_by
from service.usecases.lines import LineHistories
from service.usecases.lots import readings as records

_decode_told = msgspec.json.Decoder(Told).decode


class Lots(Struct, frozen=True):
    """What the handlers of lots need: the ledger, the grades to judge by, the histories of lines, the metric of judgements.

    One object, as Litestar resolves two dependencies of a handler by tasks of their own (195 µs in place of 33).
    """

    ledger: Ledger
    grade_cache: GradeCache
    lines: LineHistories
    judged: JudgementCounter
    most_readings: int
    """The most readings of one request."""
    one_person_may: bool
    """Whether the person who granted a concession may also dispose of the lot by it."""
    time_zone: tzinfo = UTC
    """The zone of a day that stands for a period."""


def recorded(lots: Lots, done: records.RecordedReadings, batch: Batch | None = None) -> Response[Recorded]:
    """The answer to recorded readings or a strike; a verdict recorded in the same transaction is counted in the metrics."""
    standing, row = done.standing, done.recorded.row
    if done.is_new and done.verdict and row.outcome:
        lots.judged.count("verdicts", row.grade, row.outcome)
    # A repeated request is answered with all standings: which of them had moved the first time is not stored.
    requirements = standing.moved if done.is_new else standing.requirements.values()
    document = Recorded(
        lot=row.lot,
        grade=row.grade,
        revision=done.held.number,
        specification=done.held.compiled.digest,
        evidence=standing.evidence,
        changes=standing.changes,
        change=done.recorded.number,
        batch=batch.batch if batch else UNSET,
        counted=CountedOnce(batch.readings) if batch else UNSET,
        instrument=_instrument_mark(done, batch) if batch else UNSET,
        state=row.state,
        verdict=done.verdict or UNSET,
        requirements=list(requirements),
        flaws=list(standing.flaws) or UNSET,
    )
    return created_or_found(document, is_new=done.is_new)


def _instrument_mark(done: records.RecordedReadings, batch: Batch) -> InstrumentSeen | UnsetType:
    """What was known of the batch's instrument when the batch was first recorded; UNSET for an unregistered one."""
    marks = done.recorded.folded.marks.get(batch.batch)
    return InstrumentSeen(batch.instrument or "", marks.version, marks.calibration) if marks else UNSET


async def lot_shown(lots: Lots, lot: str) -> LotShown:
    """A lot with its state, attributes and counts of readings. Raises LotUnknownError."""
    row, folded = await lots.ledger.row(lot), await lots.ledger.folded(lot)
    attributes = [Attribute(name, value) for name, value in await lots.ledger.attributes(lot)]
    cached_grade = await held_by(lots.grade_cache, row.grade, row.revision, "")
    readings = [ReadingsSoFar(name, taken, struck) for name, (taken, struck) in folded.readings.items()]
    disposed = folded.handled.dispositions
    return LotShown(
        **_common(row),
        made=folded.made or UNSET,
        resubmits=folded.resubmits or UNSET,
        specification=cached_grade.compiled.digest,
        told=_decode_told(row.told),
        inspections=folded.carried or UNSET,
        readings=readings,
        attributes=attributes,
        verdicts=len(folded.verdicts),
        is_of_earlier_verdict=disposed[-1].is_of_earlier_verdict(len(folded.verdicts)) if disposed else UNSET,
    )


def _common(row: LotRow) -> dict[str, Any]:
    """What a list and the lot itself both show of its row."""
    return {
        "lot": row.lot,
        "grade": row.grade,
        "revision": row.revision,
        "state": row.state,
        "changes": row.changes,
        "opened_at": row.opened_at,
        "line": row.line or UNSET,
        "closed_at": row.closed_at or UNSET,
        "outcome": row.outcome or UNSET,
        "disposition": row.disposition or UNSET,
    }


def listed(row: ListedLot) -> LotSummary:
    """A lot in a list."""
    return LotSummary(
        **_common(row),
        failed=list(row.failed) if row.outcome else UNSET,
        claims=row.open_claims,
        resubmits=row.resubmits or UNSET,
        made=row.made or UNSET,
    )


def change_shown(lot: str, change: Change) -> ChangeShown:
    """A change in a list."""
    return ChangeShown(change.number, change.at, change.by, change.kind, change.key or lot, change.digest)


def batch_shown(lot: str, batch: str, change: Change) -> BatchKept:
    """A batch as it is stored. Raises ChangeUnknownError where the change with this id is no batch."""
    if change.kind not in {BATCH, CORRECTION}:
        text = f"{quoted(batch)} is another change of lot {lot}, not a batch. `GET /v1/lots/{lot}/changes` lists the batches."
        raise ChangeUnknownError(text)
    shown = change_shown(lot, change)
    return BatchKept(shown.number, shown.at, shown.by, shown.kind, shown.id, shown.digest, msgspec.json.decode(change.document))


async def find_lots(ledger: Ledger, wanted: LotsQuery, most: int) -> Sequence[ListedLot]:
    """At most `most` lots of those that the query selects. Raises FlawedDocumentError at /after for an unknown lot."""
    try:
        return await ledger.lots(replace(wanted, limit=most))
    except LotUnknownError as error:
        # The order of opening needs the moment of the lot that a page begins behind; the order of ids does not.
        text = f"There is no lot {quoted(wanted.after)} that a page could begin after. Send the `next` of the page before."
        raise FlawedDocumentError([Flaw("unknown-lot", text, "/after")]) from error


def in_period(
    wanted: LotsQuery, from_: str | None, until: str | None, made: tuple[str | None, str | None], zone: tzinfo
) -> LotsQuery:
    """The query with its periods, of opening and of making. Raises FlawedDocumentError with the flaws of both."""
    flaws, opened = days_flaws(*made, ("made_from", "made_until")), Period(None, None)
    try:
        opened = period_of(from_, until, zone)
    except FlawedDocumentError as error:
        flaws = [*error.flaws, *flaws]
    if flaws:
        raise FlawedDocumentError(flaws)
    return replace(wanted, opened_from=opened.start, opened_until=opened.end, made_from=made[0], made_until=made[1])


def name_and_value(attribute: str) -> tuple[str, str]:
    """The name and value of an attribute in a query, as in `order:4500031877`; the value may contain colons."""
    name, _, value = attribute.partition(":")
    return name, value
