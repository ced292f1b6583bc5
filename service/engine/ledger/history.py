"""The changes of a lot → its evidence and its row: a pure fold, so that the same changes always give the same document."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from copy import copy
from datetime import datetime
from typing import Any, Literal, NamedTuple

import msgspec
from msgspec import UNSET, Struct, UnsetType
from msgspec.structs import replace

from service.engine.documents import Counted, Dated, DeclaredValue, Evidence, Lot
from service.engine.ledger.claiming import CLAIM, SETTLEMENT, Claims
from service.engine.ledger.collecting import BatchPlaces, SeriesColumn, column_key
from service.engine.ledger.disposing import CONCESSION, DISPOSITION, Disposing, LotDispositions
from service.engine.ledger.documents import (
    AttributesAdded,
    Carried,
    CarriedMove,
    CarriedOpening,
    Change,
    MarkedBatch,
    MarkedCorrection,
    Marks,
    Strike,
    Struck,
    Told,
    VerdictRecord,
)
from service.engine.ledger.listed import MADE, MadeOn, made_on

OPENED, BATCH, STRIKE, MOVED, ATTRIBUTES = "opened", "batch", "strike", "revision-moved", "attributes"
CORRECTION = "correction"
VERDICT, OF_VERDICTS = "verdict", "/verdicts/"
"""The kind of the change that records a verdict, and the start of its key, before its number."""

# Measured by tracemalloc: 2,339 bytes for an open lot, 10,000 for a batch of 100 readings with packages, 2,500 bytes as stored.
BYTES_A_LOT, BYTES_A_CHANGE, BYTES_A_DOCUMENT_BYTE, BYTES_A_REQUIREMENT = 2400, 600, 5, 200
"""Estimated memory of a lot in bytes: fixed, for each change, for each byte of its document, for each requirement."""

_OPENING, _BATCH = msgspec.json.Decoder(CarriedOpening), msgspec.json.Decoder(MarkedBatch)
_STRIKE, _MOVED = msgspec.json.Decoder(Strike), msgspec.json.Decoder(CarriedMove)
_VERDICT, _CORRECTION = msgspec.json.Decoder(VerdictRecord), msgspec.json.Decoder(MarkedCorrection)
_TOLD, _ATTRIBUTES = msgspec.json.Decoder(Told), msgspec.json.Decoder(AttributesAdded)
_encode = msgspec.json.Encoder(order="sorted").encode


class _LotPart(Struct):
    """What a batch or a correction states of the lot itself, decoded without its readings, which can be many."""

    lot: Told | UnsetType = UNSET


class _DispositionPart(Struct):
    """What a disposition does with the lot, decoded without its reason."""

    disposition: Disposing


_LOT_PART, _DISPOSITION_PART = msgspec.json.Decoder(_LotPart), msgspec.json.Decoder(_DispositionPart)


class KnownChange(NamedTuple):
    """A change found by its key: its number, its kind, and the digest of what was sent."""

    number: int
    kind: str
    digest: str


LotState = Literal["open", "waiting", "closed"]
LotOutcome = Literal["pass", "fail", "undecided"]


class LotRow(Struct, frozen=True, kw_only=True):
    """The current state of a lot, for lists and decisions; all of it follows from the lot's changes."""

    lot: str
    grade: str
    revision: int
    state: LotState
    """`waiting` after a verdict that is undecided because readings are missing."""
    changes: int
    told: bytes
    """What is stated of the lot itself, as JSON of `Told`."""
    line: str | None = None
    opened_at: datetime
    closed_at: datetime | None = None
    """Since when the lot has been closed without interruption."""
    outcome: LotOutcome | None = None
    disposition: Disposing | None = None


class LotHistory:
    """A lot after the changes added so far. What is read from it must not be held: the next change alters it in place."""

    def __init__(self, lot: str) -> None:
        """A lot before its first change."""
        self.lot = lot
        self.row: LotRow | None = None
        """The row that follows from the changes; None before the first one."""
        self.carried: list[Carried] = []
        """The inspection states of its line at the opening; used where nobody stated how the lot is inspected."""
        self.is_resubmitted = False
        self.resubmits = self.made = ""
        """As its opening states them; `made` as YYYY-MM-DD."""
        self.changes = self.strikes = self.taken = 0
        """Numbers of changes, of strikes, and of readings received."""
        self.known: dict[str, KnownChange] = {}
        self.columns: dict[Any, SeriesColumn] = {}
        self.placed: dict[str, BatchPlaces] = {}
        self.verdicts: list[VerdictRecord] = []
        self.handled, self.claims = LotDispositions(), Claims()
        self.marks: dict[str, Marks] = {}
        """By batch id, what was known of its instrument; only batches that have marks."""
        self.seen_at = 0.0
        """When it was last compared with the database, in seconds of a monotonic clock."""
        self.standing: object = None
        """The last standing that the use cases calculated for it, set by `stand`."""
        self.used: object = None
        """The allowances used up, as the use cases calculated them last for checks."""
        self.bytes = BYTES_A_LOT
        """Estimated memory that it occupies."""
        self.bytes_of_standing = 0
        self.weighed: Callable[[int], None] | None = None
        """Called with each increase of `bytes`, by the memory that holds the lot."""
        # An item that is struck becomes None and stays, so that the places of the items behind it remain valid.
        self.others: dict[str, list[Any]] = {"counts": [], "declared": [], "dates": []}

    def with_change(self, change: Change) -> "LotHistory":
        """A copy with one more change; this one does not change."""
        made = copy(self)
        # A copy is only tried, perhaps refused, so no memory may count its growth.
        made.weighed = None
        made.known, made.placed, made.verdicts = self.known.copy(), self.placed.copy(), self.verdicts.copy()
        made.marks, made.handled, made.claims = self.marks.copy(), self.handled.copy(), self.claims.copy()
        made.columns = {key: column.copy() for key, column in self.columns.items()}
        made.others = {name: items.copy() for name, items in self.others.items()}
        made.add(change)
        return made

    def add(self, change: Change) -> None:
        """Add the next change; one that was added before is ignored."""
        if change.number <= self.changes:
            return
        assert change.number == self.changes + 1
        self.changes, self.row = change.number, row_after(self.row, self.lot, change)
        self.known[change.key] = KnownChange(change.number, change.kind, change.digest)
        self._gain(BYTES_A_CHANGE + BYTES_A_DOCUMENT_BYTE * len(change.document))
        fold = _FOLDS.get(change.kind)
        if fold:
            fold(self, change)

    def stand(self, standing: object, requirements: int) -> None:
        """Hold a standing that was calculated for this number of requirements, and count its memory."""
        self.standing, before = standing, self.bytes_of_standing
        self.bytes_of_standing = BYTES_A_REQUIREMENT * requirements
        self._gain(self.bytes_of_standing - before)

    def _gain(self, by: int) -> None:
        self.bytes += by
        if self.weighed:
            self.weighed(by)

    @property
    def grade(self) -> str:
        """The grade by which it is judged; "" before its first change."""
        return self.row.grade if self.row else ""

    @property
    def revision(self) -> int:
        """The revision of the grade; 0 before its first change."""
        return self.row.revision if self.row else 0

    @property
    def told(self) -> Told:
        """What is stated of the lot itself."""
        return _TOLD.decode(self.row.told) if self.row else Told()

    def evidence(self) -> Evidence:
        """The evidence document. It shares its lists with this object, so it is valid until the next change."""
        stated = self.told
        # What somebody stated of the whole lot takes precedence over what its line's history results in.
        by_class = [each.inspection_of for each in self.carried] if stated.inspection is UNSET else []
        lot = Lot(self.lot, stated.size, stated.inspection, stated.length, stated.mass, by_class or UNSET)
        series = [column.series() for column in self.columns.values()]
        others = {name: [item for item in items if item is not None] or UNSET for name, items in self.others.items()}
        if self.made and others["dates"]:
            others["dates"] = _stated_once(others["dates"], self.made)
        return Evidence(lot, series or UNSET, **others)

    @property
    def readings(self) -> dict[str, tuple[int, int]]:
        """(readings received, those of them that are struck) by characteristic."""
        found: dict[str, tuple[int, int]] = {}
        for column in self.columns.values():
            received, struck = found.get(column.head.characteristic, (0, 0))
            found[column.head.characteristic] = (received + len(column.values), struck + column.struck)
        return found

    def has(self, batch: str, place: str) -> bool:
        """True where an item is at this pointer into a batch, "" for the opening. Raises KeyError for an unknown batch."""
        _, member, number, *rest = place.split("/")
        places = self.placed[batch]
        if member == "series":
            return int(number) < len(places.series) and int(rest[1]) < places.series[int(number)][2]
        return member in places.others and int(number) < places.others[member][1]

    def open(self, opening: CarriedOpening) -> None:
        """Add the opening."""
        self.carried, self.is_resubmitted = list(opening.carried or ()), bool(opening.resubmits)
        self.resubmits = opening.resubmits or ""
        dates = opening.dates or []
        self.others["dates"] += dates
        # "" is no id of a batch, so a strike without `of` finds the dates of the opening under it.
        self.placed[""] = BatchPlaces([], {"dates": (0, len(dates))})

    def date_made(self, made: MadeOn) -> None:
        """Add the day on which the lot was made."""
        self.made = made.made
        if made.is_dated:
            self.others["dates"].append(Dated(MADE, made.made))

    @property
    def dated_made(self) -> str:
        """The day that the evidence has for the event `made`; "" for none."""
        dates = (each.date for each in self.others["dates"] if each is not None and each.event == MADE)
        return next(dates, "")

    def add_batch(self, batch: MarkedBatch) -> None:
        """Append the readings, counts, declarations and dates of a batch."""
        self.taken += batch.readings
        if not isinstance(batch.marks, UnsetType):
            self.marks[batch.batch] = batch.marks
        series = []
        for sent in batch.series_with_marks:
            # Joined by head, so that the evidence of a lot stays short however many batches its stations send.
            key = column_key(sent)
            column = self.columns.get(key)
            if column is None:
                head = replace(sent, values=[], packages=UNSET, remarks=UNSET)
                column = self.columns[key] = SeriesColumn(head, [], None if isinstance(sent.packages, UnsetType) else [])
            series.append((key, len(column.values), len(sent.values)))
            column.add(sent)
        others: dict[str, tuple[int, int]] = {}
        added: Mapping[str, list[Counted] | list[DeclaredValue] | list[Dated] | UnsetType]
        added = {"counts": batch.counts, "declared": batch.declared, "dates": batch.dates}
        for name, items in added.items():
            if items:
                others[name] = (len(self.others[name]), len(items))
                self.others[name] += items
        self.placed[batch.batch] = BatchPlaces(series, others)

    def strike(self, struck: Struck) -> None:
        """Mark readings as struck, and remove counts, declarations and dates."""
        self.strikes += 1
        places = self.placed[struck.batch]
        for place in struck.at:
            _, member, number, *rest = place.split("/")
            if member == "series":
                key, start, _ = places.series[int(number)]
                self.columns[key].strike(start + int(rest[1]))
            else:
                self.others[member][places.others[member][0] + int(number)] = None

    def correct(self, correction: MarkedCorrection) -> None:
        """Strike the items that a correction names, then append those that it adds."""
        for struck in correction.strikes or ():
            self.strike(struck)
        self.add_batch(correction.added)

    def add_verdict(self, verdict: VerdictRecord) -> None:
        """Add a verdict. The evidence does not change."""
        self.verdicts.append(verdict)


def _stated_once(dates: list[Dated], made: str) -> list[Dated]:
    """The dates, with the day of the event `made` once where a batch states the opening's day again."""
    first = Dated(MADE, made)
    return [each for number, each in enumerate(dates) if each != first or first not in dates[:number]]


def row_after(row: LotRow | None, lot: str, change: Change) -> LotRow:
    """The row of the lot after its next change.

    row  the row before the change, None before the first one

    Raises msgspec.DecodeError where the document does not fit the kind of the change.
    """
    # The only place where a row is made: the storage compares stored rows with it, and refuses a lot whose row differs.
    if row is None:
        return _opened(lot, change)
    update = _ROWS.get(change.kind)
    return replace(update(row, change) if update else row, changes=change.number)


def attributes_in(change: Change) -> Sequence[tuple[str, str]]:
    """(name, value) of each attribute that a change adds to its lot."""
    if change.kind == OPENED:
        added = _OPENING.decode(change.document).attributes or ()
    else:
        added = _ATTRIBUTES.decode(change.document).attributes if change.kind == ATTRIBUTES else ()
    return [(each.name, each.value) for each in added]


def _opened(lot: str, change: Change) -> LotRow:
    opening = _OPENING.decode(change.document)
    return LotRow(
        lot=lot,
        grade=opening.grade,
        revision=opening.revision or 0,
        state="open",
        changes=change.number,
        told=encoded(opening.told),
        line=opening.line or None,
        opened_at=change.at,
    )


def _with_lot_part(row: LotRow, change: Change) -> LotRow:
    """The row with what a batch or a correction states of the lot itself."""
    # That only a correction changes what was stated before is checked before a change is recorded.
    more = _LOT_PART.decode(change.document).lot
    return row if isinstance(more, UnsetType) else replace(row, told=encoded(merged(_TOLD.decode(row.told), more)))


def _judged(row: LotRow, change: Change) -> LotRow:
    verdict = _VERDICT.decode(change.document)
    # A correction of a closed lot brings another closing verdict, which does not move the moment of closing.
    closed_at = (row.closed_at or change.at) if verdict.state == "closed" else None
    return replace(row, state=verdict.state, outcome=verdict.outcome.value, closed_at=closed_at)


def assemble(lot: str, changes: Iterable[Change]) -> Evidence:
    """The evidence that results from these changes, given from the first one on, in their order."""
    history = LotHistory(lot)
    for change in changes:
        history.add(change)
    return history.evidence()


def verdict_key(number: int) -> str:
    """The key of the change that records a verdict; it begins with `/`, as no id that a caller chooses can."""
    return f"{OF_VERDICTS}{number}"


def merged(stated: Told, more: Told) -> Told:
    """What is stated of a lot, with `more` in place of what was stated before."""
    return Told(*[new if new is not UNSET else old for old, new in zip(_members(stated), _members(more), strict=True)])


def _members(stated: Told) -> tuple[Any, ...]:
    return stated.size, stated.inspection, stated.length, stated.mass


def encoded(document: Struct) -> bytes:
    """A document as stored: keys sorted, no white space, so that equal documents are equal bytes."""
    return _encode(document)


def _move(history: LotHistory, change: Change) -> None:
    moved = _MOVED.decode(change.document)
    history.carried = list(moved.carried or ())


_FOLDS: Mapping[str, Callable[[LotHistory, Change], None]] = {
    OPENED: lambda history, change: history.open(_OPENING.decode(change.document)),
    BATCH: lambda history, change: history.add_batch(_BATCH.decode(change.document)),
    STRIKE: lambda history, change: history.strike(_STRIKE.decode(change.document).struck),
    CORRECTION: lambda history, change: history.correct(_CORRECTION.decode(change.document)),
    MOVED: _move,
    MADE: lambda history, change: history.date_made(made_on(change.document)),
    VERDICT: lambda history, change: history.add_verdict(_VERDICT.decode(change.document)),
    CONCESSION: lambda history, change: history.handled.grant(change),
    DISPOSITION: lambda history, change: history.handled.dispose(change),
    CLAIM: lambda history, change: history.claims.claim(change),
    SETTLEMENT: lambda history, change: history.claims.settle(change),
}
"""How a change of each kind is added to a history; other kinds change only the row."""

_ROWS: Mapping[str, Callable[[LotRow, Change], LotRow]] = {
    BATCH: _with_lot_part,
    CORRECTION: _with_lot_part,
    MOVED: lambda row, change: replace(row, revision=_MOVED.decode(change.document).revision),
    VERDICT: _judged,
    DISPOSITION: lambda row, change: replace(row, disposition=_DISPOSITION_PART.decode(change.document).disposition),
}
"""How a change of each kind changes the row; other kinds only raise the number of changes."""
