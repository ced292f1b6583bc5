"""Opening a lot, adding attributes to it, and moving it to a newer revision of its grade."""

from contextlib import suppress
from itertools import chain
from typing import NamedTuple

import msgspec
from msgspec import UNSET, UnsetType

from service.engine.documents import Evidence, Flaw, FlawedDocumentError, quoted
from service.engine.documents import Lot as LotDocument
from service.engine.grade import CompiledGrade
from service.engine.ledger import (
    ATTRIBUTES,
    MOVED,
    OPENED,
    AttributesAdded,
    Carried,
    CarriedMove,
    CarriedOpening,
    LotRow,
    Opening,
    RevisionMoved,
    encoded,
)
from service.engine.lot import date_flaws, lot_flaws
from service.ports.ledger import (
    Decided,
    Ledger,
    LotIsClosedError,
    LotUnknownError,
    NewChange,
    PendingLot,
    Recorded,
    RevisionIsNotNewerError,
)
from service.usecases.grades import CachedGrade, GradeCache
from service.usecases.judging import held_by
from service.usecases.lines import LineHistories
from service.usecases.repeating import digest_of_sent, is_repeated, record_or_compare

OPENING_KEY = ""
"""Key of a lot's first change, which is identified by the lot's id."""


class RecordedChange(NamedTuple):
    """A recorded change, and whether it is new."""

    recorded: Recorded
    is_new: bool


async def open_lot(
    ledger: Ledger, grade_cache: GradeCache, lot: str, opening: Opening, by: str, lines: LineHistories | None = None
) -> RecordedChange:
    """Open a lot by the given revision or the one in force; repeating is safe.

    lines  line histories, from which a lot of a line gets its severity of inspection unless the opening states it

    Raises ContentDiffersError, FlawedDocumentError.
    """
    held = await held_by(grade_cache, opening.grade, opening.revision or None, "")
    if flaws := [*_opening_flaws(held.compiled, lot, opening), *await _resubmission_flaws(ledger, lot, opening)]:
        raise FlawedDocumentError(flaws)
    # Of what was sent: the revision in force, filled in below, may be another one when the caller repeats.
    digest = digest_of_sent(opening)
    # Stored with the opening, so that no later verdict on the line changes how this lot was inspected.
    carried: list[Carried] | UnsetType = UNSET
    if lines and opening.line and opening.inspection is UNSET:
        carried = await lines.carried(held, opening.line) or UNSET
    resolved = CarriedOpening(**{**msgspec.structs.asdict(opening), "revision": held.number}, carried=carried)
    change = NewChange(by=by, kind=OPENED, key=OPENING_KEY, digest=digest, document=encoded(resolved))

    def decide(pending: PendingLot) -> Decided:
        if is_repeated(pending.find(OPENING_KEY), OPENED, digest):
            return Decided(number=1)
        return Decided(changes=[change])

    return _recorded(await record_or_compare(ledger, lot, OPENING_KEY, opening, decide, filled=("revision",)))


def _opening_flaws(grade: CompiledGrade, lot: str, opening: Opening) -> list[Flaw]:
    """Flaws of the data of the lot, and of its dates."""
    data = opening.told
    document = LotDocument(lot, data.size, data.inspection, data.length, data.mass)
    events = {event for requirement in grade.requirements for event in requirement.events}
    evidence = Evidence(document, dates=opening.dates)
    dates = date_flaws(evidence, events) if opening.dates else ()
    return list(chain(lot_flaws(document, ""), dates))


async def _resubmission_flaws(ledger: Ledger, lot: str, opening: Opening) -> list[Flaw]:
    """Flaws of `resubmits`, which has to name another lot of the same grade."""
    if not opening.resubmits:
        return []
    known = None if opening.resubmits == lot else await _row_of(ledger, opening.resubmits)
    if known and known.grade == opening.grade:
        return []
    why = "is this lot itself" if opening.resubmits == lot else f"is of grade {known.grade}" if known else "is not known"
    text = f"Lot {quoted(opening.resubmits)} {why}. Give the lot of {opening.grade} that is presented again as this one."
    return [Flaw("not-resubmitted", text, "/resubmits")]


async def _row_of(ledger: Ledger, lot: str) -> LotRow | None:
    """Return a lot's row, or None."""
    with suppress(LotUnknownError):
        return await ledger.row(lot)
    return None


async def add_attributes(ledger: Ledger, lot: str, added: AttributesAdded, by: str) -> RecordedChange:
    """Add attributes to a lot in any state. Raises LotUnknownError, ContentDiffersError."""

    def decide(pending: PendingLot) -> Decided:
        existing_row(pending, lot)
        if is_repeated(pending.find(added.id), ATTRIBUTES, digest):
            return Decided(number=number_of(pending, added.id))
        return Decided(changes=[change])

    digest = digest_of_sent(added)
    change = NewChange(by=by, kind=ATTRIBUTES, key=added.id, digest=digest, document=encoded(added))
    return _recorded(await record_or_compare(ledger, lot, added.id, added, decide))


async def move_revision(
    ledger: Ledger, grade_cache: GradeCache, lot: str, moved: RevisionMoved, by: str, lines: LineHistories | None = None
) -> RecordedChange:
    """Move an open lot to a newer released revision.

    lines  line histories, from which classes that are new in the revision get their severity; others keep theirs

    Raises LotIsClosedError, RevisionIsNotNewerError, and FlawedDocumentError at /revision.
    """
    row = await ledger.row(lot)
    held: CachedGrade = await held_by(grade_cache, row.grade, moved.revision, "")
    digest = digest_of_sent(moved)
    before = (await ledger.folded(lot)).carried
    carried = await lines.carried(held, row.line, before) if lines and before and row.line else UNSET
    stored = CarriedMove(**msgspec.structs.asdict(moved), carried=carried)
    change = NewChange(by=by, kind=MOVED, key=moved.id, digest=digest, document=encoded(stored))

    def decide(pending: PendingLot) -> Decided:
        row = existing_row(pending, lot)
        if is_repeated(pending.find(moved.id), MOVED, digest):
            return Decided(number=number_of(pending, moved.id))
        if row.state != "open":
            raise LotIsClosedError(f"Lot {lot} has a verdict by revision {row.revision} and stays with it.")
        if held.number <= row.revision:
            text = f"Lot {lot} is already judged by revision {row.revision} of {row.grade}. Give a newer one."
            raise RevisionIsNotNewerError(text)
        return Decided(changes=[change])

    return _recorded(await record_or_compare(ledger, lot, moved.id, moved, decide))


def existing_row(pending: PendingLot, lot: str) -> LotRow:
    """Return the row of a pending lot. Raises LotUnknownError before it is opened."""
    if pending.row is None:
        raise LotUnknownError(f"There is no lot `{lot}`. `PUT /v1/lots/{lot}` opens it.")
    return pending.row


def number_of(pending: PendingLot, key: str) -> int:
    """Return the number of the change under an id; 0 for none."""
    known = pending.find(key)
    return known.number if known else 0


def _recorded(recorded: Recorded) -> RecordedChange:
    return RecordedChange(recorded, is_new=bool(recorded.decided.changes))
