"""Recording batches of readings, counts, declarations and dates; and striking them out."""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import msgspec
from msgspec import UNSET, UnsetType

from service.engine.documents import Evidence, Flaw, FlawedDocumentError, Series, digest_of, quoted
from service.engine.documents import Lot as LotDocument
from service.engine.grade import CompiledGrade
from service.engine.judging import lot_of
from service.engine.ledger import BATCH, MADE, STRIKE, Batch, LotHistory, LotRow, Strike, Struck, Told, encoded
from service.engine.lot import lot_flaws, sent
from service.ports.ledger import (
    ChangeUnknownError,
    Decided,
    Ledger,
    LotIsClosedError,
    LotStatedOtherwiseError,
    NewChange,
    PendingLot,
    Recorded,
)
from service.usecases.grades import CachedGrade, GradeCache
from service.usecases.instruments import flaws_by_instrument, likely_marked, marked
from service.usecases.judging import held_by
from service.usecases.lots.by_revision import grade_of, record_by_own_revision
from service.usecases.lots.opening import existing_row, number_of
from service.usecases.lots.standing import Standing, current_standing
from service.usecases.lots.verdicts import AdvanceVerdict, judge_in_advance, next_verdict, verdict_behind, with_new_change
from service.usecases.repeating import digest_of_sent, is_repeated, record_or_compare

OF_THE_WHOLE = frozenset({"stages-out-of-order", "stage-without-first"})
"""Flaws that are none in a single batch, as the rest of the lot is in others."""
_lot_data = msgspec.json.Decoder(Told).decode


class RecordedReadings(NamedTuple):
    """A recorded batch or strike, whether it is new, and the lot's standing after it."""

    recorded: Recorded
    is_new: bool
    held: CachedGrade
    standing: Standing
    verdict: int
    """Number of the verdict recorded with it; 0 for none."""


async def record_batch(ledger: Ledger, grade_cache: GradeCache, lot: str, batch: Batch, by: str) -> RecordedReadings:
    """Store a batch once under its id; for a lot that waits, together with its next verdict.

    The batch is stored with what the register states of its instrument in the same transaction.

    Raises FlawedDocumentError with every flaw of the batch and, for a lot that waits, of the evidence as a whole, below
    /evidence; ContentDiffersError, LotUnknownError, LotIsClosedError, LotStatedOtherwiseError. Nothing is stored then.
    """
    # Encoded once and before any lock is held, as most batches are stored as sent and may be long.
    as_sent = encoded(batch)
    digest = digest_of(as_sent)

    def change(stored: Batch) -> NewChange:
        document = as_sent if stored is batch else encoded(stored)
        return NewChange(by=by, kind=BATCH, key=batch.batch, digest=digest, document=document)

    async def attempt(held: CachedGrade) -> Recorded:
        grade, advance = held.compiled, None
        if flaws := batch_flaws(grade, lot, batch) or list(_nothing_in(batch)):
            raise FlawedDocumentError([*flaws, *await flaws_by_instrument(ledger, grade, batch)])
        if _waits(ledger, lot):
            advance = await judge_in_advance(ledger, held, lot, change(await likely_marked(ledger, grade, batch)))

        def decide(pending: PendingLot) -> Decided:
            row = existing_row(pending, lot)
            if is_repeated(pending.find(batch.batch), BATCH, digest):
                return Decided(number=number_of(pending, batch.batch))
            _check_open(row)
            _check_stated(row, batch)
            _check_made(pending, batch)
            return _recorded(pending, row, change(marked(pending, grade, batch)), held, advance)

        return await record_or_compare(ledger, lot, batch.batch, batch, decide, batch.instrument or None)

    return await _with_standing(
        grade_cache, await record_by_own_revision(grade_cache, await grade_of(ledger, grade_cache, lot), attempt)
    )


async def strike(ledger: Ledger, grade_cache: GradeCache, lot: str, struck: Strike, by: str) -> RecordedReadings:
    """Strike entries of a batch, which stay stored and are reported as struck; a lot that waits gets its next verdict.

    Raises ChangeUnknownError, FlawedDocumentError at /at, and those of `record_batch`; ContentDiffersError, LotUnknownError,
    LotIsClosedError.
    """
    digest = digest_of_sent(struck)
    change = NewChange(by=by, kind=STRIKE, key=struck.id, digest=digest, document=encoded(struck))

    async def attempt(held: CachedGrade) -> Recorded:
        def decide(pending: PendingLot) -> Decided:
            row = existing_row(pending, lot)
            if is_repeated(pending.find(struck.id), STRIKE, digest):
                return Decided(number=number_of(pending, struck.id))
            _check_open(row)
            check_struck(pending.complete_history(), struck)
            return _recorded(pending, row, change, held, None)

        return await record_or_compare(ledger, lot, struck.id, struck, decide)

    return await _with_standing(
        grade_cache, await record_by_own_revision(grade_cache, await grade_of(ledger, grade_cache, lot), attempt)
    )


def check_struck(folded: LotHistory, struck: Strike) -> None:
    """Raise ChangeUnknownError for an unknown batch, FlawedDocumentError for entries that it does not have."""
    if struck.struck.batch not in folded.placed:
        lot = folded.lot
        text = f"Lot {lot} has no batch {quoted(struck.struck.batch)}. `GET /v1/lots/{lot}/changes` lists its batches."
        raise ChangeUnknownError(text)
    if flaws := list(nothing_to_strike(folded, struck.struck)):
        raise FlawedDocumentError(flaws)


def nothing_to_strike(folded: LotHistory, struck: Struck) -> Iterator[Flaw]:
    """Flaws of strikes of entries that do not exist, with pointers into the strike."""
    where = "The batch" if struck.of else "The opening of the lot"
    for number, place in enumerate(struck.at):
        if not folded.has(struck.batch, place):
            text = f"{where} has no entry at {quoted(place)}. Give the place of one that it has."
            yield Flaw("nothing-there", text, f"/at/{number}")


def batch_flaws(grade: CompiledGrade, lot: str, batch: Batch) -> Sequence[Flaw]:
    """Return every flaw of a batch alone, with pointers into it."""
    flaws: list[Flaw] = []
    if isinstance(batch.lot, Told):
        document = LotDocument(lot, batch.lot.size, batch.lot.inspection, batch.lot.length, batch.lot.mass)
        flaws += lot_flaws(document, "/lot")
    # Prepared like a whole lot, so that a batch is refused for the same reasons as evidence sent for a verdict.
    evidence = Evidence(LotDocument(lot), batch.series, batch.declared, batch.counts, batch.dates)
    try:
        lot_of(grade, evidence, sent(evidence))
    except FlawedDocumentError as error:
        flaws += [flaw for flaw in error.flaws if flaw.code not in OF_THE_WHOLE]
    return flaws


def brings_something(batch: Batch) -> bool:
    """True if a batch has any content."""
    content: Sequence[Sequence[Series] | Sequence[object] | Told | UnsetType]
    content = (batch.series, batch.counts, batch.declared, batch.dates, batch.lot)
    return any(content)


def _nothing_in(batch: Batch) -> Iterator[Flaw]:
    """The flaw of a batch without content."""
    if not brings_something(batch):
        text = "The batch is empty. Give `series`, `counts`, `declared`, `dates` or `lot`."
        yield Flaw("nothing-in-batch", text, "")


def _waits(ledger: Ledger, lot: str) -> bool:
    """True if a lot waits for readings, as far as known in memory."""
    known = ledger.remembered(lot)
    return known is not None and bool(known.verdicts) and known.verdicts[-1].state == "waiting"


def _recorded(
    pending: PendingLot, row: LotRow, change: NewChange, held: CachedGrade, advance: AdvanceVerdict | None
) -> Decided:
    """Decide to store a change, with the next verdict if the lot waits; decide nothing if that has another revision."""
    if row.state != "waiting":
        _prepare_standing(pending, held)
        return Decided(changes=[change])
    folded = with_new_change(pending.complete_history(), change, pending.now)
    if row.revision != held.number:
        return Decided()
    _prepare_standing(pending, held)
    verdict = next_verdict(folded, held, change.by, advance=advance)
    return Decided(changes=[change, verdict], number=folded.changes)


def _check_open(row: LotRow) -> None:
    """Raise LotIsClosedError for a closed lot."""
    if row.state == "closed":
        text = f"Lot {row.lot} is closed. To correct it, send `POST /v1/lots/{row.lot}/corrections`."
        raise LotIsClosedError(text)


def _prepare_standing(pending: PendingLot, held: CachedGrade) -> None:
    """Calculate the standing before the change, so that differences can be reported."""
    if pending.committed.changes and pending.committed.revision == held.number:
        current_standing(pending.committed, held.compiled)


def _check_made(pending: PendingLot, batch: Batch) -> None:
    """Raise LotStatedOtherwiseError if a batch dates the making of the lot otherwise than its opening."""
    dated = next((each.date for each in batch.dates or () if each.event == MADE), "")
    if not dated:
        return
    history = pending.complete_history()
    if history.made and history.dated_made not in ("", dated):
        text = f"Lot {history.lot} was made on {history.dated_made} by its opening, and on {dated} by this batch."
        raise LotStatedOtherwiseError(f"{text} Take the date out of the batch, or strike the one of the opening first.")


def _check_stated(row: LotRow, batch: Batch) -> None:
    """Raise LotStatedOtherwiseError if the batch states other data of the lot than is recorded."""
    if isinstance(batch.lot, UnsetType):
        return
    before = _lot_data(row.told)
    for name in Told.__struct_fields__:
        old, new = getattr(before, name), getattr(batch.lot, name)
        if old is not UNSET and new is not UNSET and old != new:
            raise LotStatedOtherwiseError(
                f"The lot's `{name}` was already given, with another value. Remove it from the batch."
            )


async def _with_standing(grade_cache: GradeCache, result: tuple[Recorded, CachedGrade]) -> RecordedReadings:
    """Return the result with the lot's standing by its revision, which may have changed in the meantime."""
    recorded, folded = result[0], result[0].folded
    held = await held_by(grade_cache, folded.grade, folded.revision, "")
    verdict = verdict_behind(folded, recorded.number)
    return RecordedReadings(recorded, bool(recorded.decided.changes), held, current_standing(folded, held.compiled), verdict)
