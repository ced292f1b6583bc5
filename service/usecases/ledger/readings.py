"""Recording what was measured, counted, declared and dated; and striking it out again."""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import msgspec
from msgspec import UNSET, UnsetType

from service.engine.compilation import CompiledGrade
from service.engine.evidence import Evidence, Series
from service.engine.evidence import Lot as LotDocument
from service.engine.flaws import Flaw, FlawedDocumentError, quoted
from service.engine.ledger import Batch, Strike, Told
from service.engine.ledger.folding import BATCH, STRIKE, both, written
from service.engine.preparing import lot_flaws, prepare, sent
from service.ports import (
    ChangeUnknownError,
    Decided,
    Ledger,
    LotIsClosedError,
    LotRow,
    LotToldOtherwiseError,
    NewChange,
    Recorded,
    SoFar,
)
from service.usecases.against import held_by
from service.usecases.ledger.opening import number_of, there
from service.usecases.ledger.repeating import digest_of_sent, is_repeated, record_or_compare
from service.usecases.ledger.standing import Standing, stood
from service.usecases.shelf import Held, Shelf

OF_THE_WHOLE = frozenset({"stages-out-of-order", "stage-without-first"})
"""Flaws that a batch by itself may have, as the rest of the lot is elsewhere."""
_told = msgspec.json.Decoder(Told).decode


class Taken(NamedTuple):
    """What was recorded of a lot, whether it is new, and where the lot stands by then."""

    recorded: Recorded
    is_new: bool
    held: Held
    standing: Standing


async def record_batch(ledger: Ledger, shelf: Shelf, lot: str, batch: Batch, by: str) -> Taken:
    """Readings and whatever came with them, counted once under their id.

    Raises FlawedDocumentError with every flaw of the batch, of which nothing is kept then; ContentDiffersError,
    LotUnknownError, LotIsClosedError, LotToldOtherwiseError.
    """
    held = await grade_of(ledger, shelf, lot)
    if flaws := batch_flaws(held.compiled, lot, batch):
        raise FlawedDocumentError(flaws)
    digest = digest_of_sent(batch)
    change = NewChange(by=by, kind=BATCH, key=batch.batch, digest=digest, document=written(batch))

    def decide(so_far: SoFar) -> Decided:
        row = there(so_far, lot)
        if is_repeated(so_far.find(batch.batch), BATCH, digest):
            return Decided(row=row, number=number_of(so_far, batch.batch))
        _check_open(row)
        _ready(so_far, held)
        return Decided(row=_told_of(row, batch), changes=[change])

    recorded = await record_or_compare(ledger, lot, batch.batch, batch, decide)
    return await _taken(shelf, recorded)


async def strike(ledger: Ledger, shelf: Shelf, lot: str, struck: Strike, by: str) -> Taken:
    """Mark readings as struck, leave out counts, declarations and dates; they stay in the batch, and are counted as struck.

    Raises ChangeUnknownError, FlawedDocumentError at /at, ContentDiffersError, LotUnknownError, LotIsClosedError.
    """
    held = await grade_of(ledger, shelf, lot)
    digest = digest_of_sent(struck)
    change = NewChange(by=by, kind=STRIKE, key=struck.id, digest=digest, document=written(struck))

    def decide(so_far: SoFar) -> Decided:
        row = there(so_far, lot)
        if is_repeated(so_far.find(struck.id), STRIKE, digest):
            return Decided(row=row, number=number_of(so_far, struck.id))
        _check_open(row)
        folded = so_far.whole()
        if struck.of not in folded.placed:
            text = f"Lot {lot} has no batch {quoted(struck.of)}. `GET /v1/lots/{lot}/changes` lists those that it has."
            raise ChangeUnknownError(text)
        if flaws := [
            _nothing_there(place, number) for number, place in enumerate(struck.at) if not folded.has(struck.of, place)
        ]:
            raise FlawedDocumentError(flaws)
        _ready(so_far, held)
        return Decided(row=row, changes=[change])

    recorded = await record_or_compare(ledger, lot, struck.id, struck, decide)
    return await _taken(shelf, recorded)


async def grade_of(ledger: Ledger, shelf: Shelf, lot: str) -> Held:
    """The revision that a lot is judged by. Raises LotUnknownError."""
    known = ledger.remembered(lot)
    if known is None:
        known = await ledger.folded(lot)
    return await held_by(shelf, known.grade, known.revision, "")


def batch_flaws(grade: CompiledGrade, lot: str, batch: Batch) -> Sequence[Flaw]:
    """Every flaw of a batch by itself, with pointers into it; what only the whole lot can show is no flaw of it."""
    evidence = Evidence(LotDocument(lot), batch.series, batch.declared, batch.counts, batch.dates)
    flaws: list[Flaw] = []
    if isinstance(batch.lot, Told):
        told = LotDocument(lot, batch.lot.size, batch.lot.inspection, batch.lot.length, batch.lot.mass)
        flaws += lot_flaws(told, "/lot")
    try:
        prepare(grade.characteristics, (), grade.requirements, evidence, sent(evidence))
    except FlawedDocumentError as error:
        flaws += [flaw for flaw in error.flaws if flaw.code not in OF_THE_WHOLE]
    return flaws or list(_nothing_in(batch))


def _nothing_in(batch: Batch) -> Iterator[Flaw]:
    """A batch brings something."""
    brought: Sequence[Sequence[Series] | Sequence[object] | Told | UnsetType]
    brought = (batch.series, batch.counts, batch.declared, batch.dates, batch.lot)
    if not any(brought):
        text = "The batch brings nothing. Give `series`, `counts`, `declared`, `dates` or `lot`."
        yield Flaw("nothing-in-batch", text, "")


def _check_open(row: LotRow) -> None:
    """Raise LotIsClosedError where no more is taken."""
    if row.state == "closed":
        text = f"Lot {row.lot} is closed, and takes nothing more. Open another lot for what was measured since."
        raise LotIsClosedError(text)


def _ready(so_far: SoFar, held: Held) -> None:
    """Know where the lot stood before, so that it can be told what has moved."""
    if so_far.committed.changes and so_far.committed.revision == held.number:
        stood(so_far.committed, held.compiled)


def _told_of(row: LotRow, batch: Batch) -> LotRow:
    """The lot with what the batch tells of it. Raises LotToldOtherwiseError."""
    if isinstance(batch.lot, UnsetType):
        return row
    before = _told(row.told)
    for name in Told.__struct_fields__:
        old, new = getattr(before, name), getattr(batch.lot, name)
        if old is not UNSET and new is not UNSET and old != new:
            raise LotToldOtherwiseError(f"The lot's `{name}` is told already, and differs. Leave it out of the batch.")
    return msgspec.structs.replace(row, told=written(both(before, batch.lot)))


def _nothing_there(place: str, number: int) -> Flaw:
    return Flaw("nothing-there", f"The batch has nothing at {quoted(place)}. Point to one of its entries.", f"/at/{number}")


async def _taken(shelf: Shelf, recorded: Recorded) -> Taken:
    """Where the lot stands; it may have been moved to another revision meanwhile."""
    folded = recorded.folded
    held = await held_by(shelf, folded.grade, folded.revision, "")
    return Taken(recorded, bool(recorded.decided.changes), held, stood(folded, held.compiled))
