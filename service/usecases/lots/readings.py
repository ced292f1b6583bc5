"""Recording what was measured, counted, declared and dated; and striking it out again."""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import msgspec
from msgspec import UNSET, UnsetType

from service.engine.documents import Evidence, Flaw, FlawedDocumentError, Series, digest_of, quoted
from service.engine.documents import Lot as LotDocument
from service.engine.grade import CompiledGrade
from service.engine.judging import lot_of
from service.engine.ledger import BATCH, STRIKE, Batch, LotHistory, LotRow, Strike, Struck, Told, encoded
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
from service.usecases.lots.by_revision import grade_of, settled
from service.usecases.lots.opening import existing_row, number_of
from service.usecases.lots.standing import Standing, current_standing
from service.usecases.lots.verdicts import ForeseenVerdict, foresee, next_verdict, verdict_behind, with_more
from service.usecases.repeating import digest_of_sent, is_repeated, record_or_compare

OF_THE_WHOLE = frozenset({"stages-out-of-order", "stage-without-first"})
"""Flaws that a batch by itself may have, as the rest of the lot is elsewhere."""
_told = msgspec.json.Decoder(Told).decode


class RecordedReadings(NamedTuple):
    """What was recorded of a lot, whether it is new, and where the lot stands by then."""

    recorded: Recorded
    is_new: bool
    held: CachedGrade
    standing: Standing
    verdict: int
    """The number of the one that was recorded with it; 0 where none was."""


async def record_batch(ledger: Ledger, grade_cache: GradeCache, lot: str, batch: Batch, by: str) -> RecordedReadings:
    """Readings and whatever came with them, counted once under their id; while the lot waits, with its next verdict.

    What is known of their instrument in the transaction that keeps them is kept with them, for ever.

    Raises FlawedDocumentError with every flaw of the batch, of which nothing is kept then, and while the lot waits with those
    of its evidence as a whole, below /evidence; ContentDiffersError, LotUnknownError, LotIsClosedError, LotToldOtherwiseError.
    """
    # Most are kept as they were sent, so a long one is written out once, and while no lock is held.
    sent_as = encoded(batch)
    digest = digest_of(sent_as)

    def change(kept: Batch) -> NewChange:
        document = sent_as if kept is batch else encoded(kept)
        return NewChange(by=by, kind=BATCH, key=batch.batch, digest=digest, document=document)

    async def attempt(held: CachedGrade) -> Recorded:
        grade, foreseen = held.compiled, None
        if flaws := batch_flaws(grade, lot, batch) or list(_nothing_in(batch)):
            raise FlawedDocumentError([*flaws, *await flaws_by_instrument(ledger, grade, batch)])
        if _waits(ledger, lot):
            foreseen = await foresee(ledger, held, lot, change(await likely_marked(ledger, grade, batch)))

        def decide(pending: PendingLot) -> Decided:
            row = existing_row(pending, lot)
            if is_repeated(pending.find(batch.batch), BATCH, digest):
                return Decided(number=number_of(pending, batch.batch))
            _check_open(row)
            _check_told(row, batch)
            return _recorded(pending, row, change(marked(pending, grade, batch)), held, foreseen)

        return await record_or_compare(ledger, lot, batch.batch, batch, decide, batch.instrument or None)

    return await _taken(grade_cache, await settled(grade_cache, await grade_of(ledger, grade_cache, lot), attempt))


async def strike(ledger: Ledger, grade_cache: GradeCache, lot: str, struck: Strike, by: str) -> RecordedReadings:
    """Mark readings as struck, leave out counts, declarations and dates; they stay in the batch, and are counted as struck.

    While the lot waits it is judged anew by that. Raises ChangeUnknownError, FlawedDocumentError at /at, and as `record_batch`
    does; ContentDiffersError, LotUnknownError, LotIsClosedError.
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

    return await _taken(grade_cache, await settled(grade_cache, await grade_of(ledger, grade_cache, lot), attempt))


def check_struck(folded: LotHistory, struck: Strike) -> None:
    """Raise ChangeUnknownError where there is no such batch, FlawedDocumentError where it has nothing there."""
    if struck.struck.batch not in folded.placed:
        lot = folded.lot
        text = f"Lot {lot} has no batch {quoted(struck.struck.batch)}. `GET /v1/lots/{lot}/changes` lists those that it has."
        raise ChangeUnknownError(text)
    if flaws := list(nothing_to_strike(folded, struck.struck)):
        raise FlawedDocumentError(flaws)


def nothing_to_strike(folded: LotHistory, struck: Struck) -> Iterator[Flaw]:
    """Places at which a batch of the lot, or its opening, has nothing, with pointers into what is struck."""
    where = "the batch" if struck.of else "what the lot was opened by"
    for number, place in enumerate(struck.at):
        if not folded.has(struck.batch, place):
            text = f"There is nothing at {quoted(place)} in {where}. Point to one of its entries."
            yield Flaw("nothing-there", text, f"/at/{number}")


def batch_flaws(grade: CompiledGrade, lot: str, batch: Batch) -> Sequence[Flaw]:
    """Every flaw of a batch by itself, with pointers into it; what only the whole lot can show is no flaw of it."""
    flaws: list[Flaw] = []
    if isinstance(batch.lot, Told):
        told = LotDocument(lot, batch.lot.size, batch.lot.inspection, batch.lot.length, batch.lot.mass)
        flaws += lot_flaws(told, "/lot")
    evidence = Evidence(LotDocument(lot), batch.series, batch.declared, batch.counts, batch.dates)
    try:
        lot_of(grade, evidence, sent(evidence))
    except FlawedDocumentError as error:
        flaws += [flaw for flaw in error.flaws if flaw.code not in OF_THE_WHOLE]
    return flaws


def brings_something(batch: Batch) -> bool:
    """Whether there is anything in it."""
    brought: Sequence[Sequence[Series] | Sequence[object] | Told | UnsetType]
    brought = (batch.series, batch.counts, batch.declared, batch.dates, batch.lot)
    return any(brought)


def _nothing_in(batch: Batch) -> Iterator[Flaw]:
    """A batch brings something."""
    if not brings_something(batch):
        text = "The batch brings nothing. Give `series`, `counts`, `declared`, `dates` or `lot`."
        yield Flaw("nothing-in-batch", text, "")


def _waits(ledger: Ledger, lot: str) -> bool:
    """Whether a lot waits for readings, as far as it is known here."""
    known = ledger.remembered(lot)
    return known is not None and bool(known.verdicts) and known.verdicts[-1].state == "waiting"


def _recorded(
    pending: PendingLot, row: LotRow, change: NewChange, held: CachedGrade, foreseen: ForeseenVerdict | None
) -> Decided:
    """A change more; on a lot that waits with its next verdict, and nothing where it goes by another revision."""
    if row.state != "waiting":
        _ready(pending, held)
        return Decided(changes=[change])
    folded = with_more(pending.complete_history(), change, pending.now)
    if row.revision != held.number:
        return Decided()
    _ready(pending, held)
    verdict = next_verdict(folded, held, change.by, foreseen=foreseen)
    return Decided(changes=[change, verdict], number=folded.changes)


def _check_open(row: LotRow) -> None:
    """Raise LotIsClosedError where no more is taken."""
    if row.state == "closed":
        text = f"Lot {row.lot} is closed. What was wrong or left out is mended by `POST /v1/lots/{row.lot}/corrections`."
        raise LotIsClosedError(text)


def _ready(pending: PendingLot, held: CachedGrade) -> None:
    """Know where the lot stood before, so that it can be told what has moved."""
    if pending.committed.changes and pending.committed.revision == held.number:
        current_standing(pending.committed, held.compiled)


def _check_told(row: LotRow, batch: Batch) -> None:
    """Raise LotToldOtherwiseError where the batch tells otherwise what is told of the lot already."""
    if isinstance(batch.lot, UnsetType):
        return
    before = _told(row.told)
    for name in Told.__struct_fields__:
        old, new = getattr(before, name), getattr(batch.lot, name)
        if old is not UNSET and new is not UNSET and old != new:
            raise LotStatedOtherwiseError(f"The lot's `{name}` is told already, and differs. Leave it out of the batch.")


async def _taken(grade_cache: GradeCache, settled_by: tuple[Recorded, CachedGrade]) -> RecordedReadings:
    """Where the lot stands; it may have been moved to another revision meanwhile."""
    recorded, folded = settled_by[0], settled_by[0].folded
    held = await held_by(grade_cache, folded.grade, folded.revision, "")
    verdict = verdict_behind(folded, recorded.number)
    return RecordedReadings(recorded, bool(recorded.decided.changes), held, current_standing(folded, held.compiled), verdict)
