"""Opening a lot, adding attributes to it, and moving it to a newer revision of its grade."""

from collections.abc import Iterator
from contextlib import suppress
from itertools import chain
from typing import Any, NamedTuple

import msgspec
from msgspec import UNSET, UnsetType

from service.engine.documents import Dated, Evidence, Flaw, FlawedDocumentError, quoted
from service.engine.documents import Lot as LotDocument
from service.engine.grade import CompiledGrade
from service.engine.ledger import (
    ATTRIBUTES,
    MADE,
    MOVED,
    OF_MADE,
    OPENED,
    AttributesAdded,
    Carried,
    CarriedMove,
    CarriedOpening,
    LotRow,
    MadeOn,
    Opening,
    RevisionMoved,
    encoded,
)
from service.engine.lot import date_flaws, day_of, lot_flaws, no_such_day
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
    as_stored = {"revision": held.number, "made": UNSET, "dates": _dates(held.compiled, opening)}
    resolved = CarriedOpening(**{**msgspec.structs.asdict(opening), **as_stored}, carried=carried)
    changes = [NewChange(by=by, kind=OPENED, key=OPENING_KEY, digest=digest, document=encoded(resolved))]
    if opening.made:
        changes.append(_made(by, OF_MADE, MadeOn(opening.made)))

    def decide(pending: PendingLot) -> Decided:
        if is_repeated(pending.find(OPENING_KEY), OPENED, digest):
            return Decided(number=1)
        return Decided(changes=changes)

    async def as_sent(stored: dict[str, Any]) -> dict[str, Any]:
        return _with_made(stored, (await ledger.folded(lot)).made)

    return _recorded(await record_or_compare(ledger, lot, OPENING_KEY, opening, decide, filled=("revision",), as_sent=as_sent))


def _dates(grade: CompiledGrade, opening: Opening) -> list[Dated] | UnsetType:
    """The dates of an opening for the evidence: with the day on which the lot was made where the grade names that event."""
    if opening.made and MADE in _events(grade):
        return [*(opening.dates or ()), Dated(MADE, opening.made)]
    return opening.dates


def _with_made(stored: dict[str, Any], made: str) -> dict[str, Any]:
    """A stored opening with `made` as it was sent."""
    if not made:
        return stored
    dates = [each for each in stored.get("dates", ()) if each["event"] != MADE]
    return {
        **{name: value for name, value in stored.items() if name != "dates"},
        **({"dates": dates} if dates else {}),
        "made": made,
    }


def _made(by: str, key: str, made: MadeOn) -> NewChange:
    """The change that records the day on which a lot was made."""
    return NewChange(by=by, kind=MADE, key=key, digest=digest_of_sent(made), document=encoded(made))


def _events(grade: CompiledGrade) -> set[str]:
    """The events on whose dates a requirement of the grade depends."""
    return {event for requirement in grade.requirements for event in requirement.events}


def _made_flaws(opening: Opening) -> Iterator[Flaw]:
    """The flaws of `made`: no day of the calendar, or stated in `dates` too."""
    if not opening.made:
        return
    if day_of(opening.made) is None:
        yield no_such_day(opening.made, "/made")
    for number, dated in enumerate(opening.dates or ()):
        if dated.event == MADE:
            text = "The day on which the lot was made is stated already, by the member `made`. Leave one of the two."
            yield Flaw("dated-twice", text, f"/dates/{number}/event")


def _opening_flaws(grade: CompiledGrade, lot: str, opening: Opening) -> list[Flaw]:
    """Flaws of the data of the lot, and of its dates."""
    data = opening.told
    document = LotDocument(lot, data.size, data.inspection, data.length, data.mass)
    evidence = Evidence(document, dates=opening.dates)
    dates = date_flaws(evidence, _events(grade)) if opening.dates else ()
    return list(chain(lot_flaws(document, ""), dates, _made_flaws(opening)))


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
        history = pending.complete_history()
        if history.made and not history.dated_made and MADE in _events(held.compiled):
            made = MadeOn(history.made, is_dated=True)
            return Decided(changes=[change, _made(by, f"{OF_MADE}/{held.number}", made)])
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
