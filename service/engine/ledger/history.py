"""Changes of a lot → its evidence: a pure fold, so that the same changes always give the same document."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from copy import copy
from datetime import datetime
from typing import Any, Literal, NamedTuple

import msgspec
from msgspec import UNSET, Struct, UnsetType
from msgspec.structs import replace

from service.engine.documents import Counted, Dated, DeclaredValue, Evidence, Lot
from service.engine.ledger.claiming import CLAIM, SETTLEMENT, Claims
from service.engine.ledger.collecting import Column, Placed, head_key
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

OPENED, BATCH, STRIKE, MOVED, ATTRIBUTES = "opened", "batch", "strike", "revision-moved", "attributes"
CORRECTION = "correction"
VERDICT, OF_VERDICTS = "verdict", "/verdicts/"
"""The kind of a change that tells of a verdict, and how its key begins; its number follows."""

OF_A_LOT, OF_A_CHANGE, TIMES_ITS_DOCUMENT, OF_A_REQUIREMENT = 2400, 600, 5, 200
"""Bytes of memory that a lot takes, a change of it beside so many times its document, and a requirement of where it stands.

Measured by tracemalloc: 2,339 for an open lot, 10,000 for a batch of 100 readings with packages, which has 2,500 as it is kept.
"""

_OPENING, _BATCH = msgspec.json.Decoder(CarriedOpening), msgspec.json.Decoder(MarkedBatch)
_STRIKE, _MOVED = msgspec.json.Decoder(Strike), msgspec.json.Decoder(CarriedMove)
_VERDICT, _CORRECTION = msgspec.json.Decoder(VerdictRecord), msgspec.json.Decoder(MarkedCorrection)
_TOLD, _ATTRIBUTES = msgspec.json.Decoder(Told), msgspec.json.Decoder(AttributesAdded)
_encode = msgspec.json.Encoder(order="sorted").encode


class _Telling(Struct):
    """Of a batch or a correction what it tells of the lot itself, without its readings, which can be many."""

    lot: Told | UnsetType = UNSET


class _Disposed(Struct):
    """Of a disposition what is done with the lot."""

    disposition: Disposing


_TELLING, _DISPOSED = msgspec.json.Decoder(_Telling), msgspec.json.Decoder(_Disposed)


class KnownChange(NamedTuple):
    """A change by the caller's own id: where it stands, what it is, and the digest of what was sent."""

    number: int
    kind: str
    digest: str


LotState = Literal["open", "waiting", "closed"]
LotOutcome = Literal["pass", "fail", "undecided"]


class LotRow(Struct, frozen=True, kw_only=True):
    """A lot as it is now, for lists and to decide by; all of it follows from its changes."""

    lot: str
    grade: str
    revision: int
    state: LotState
    """`waiting` with a verdict that is undecided for want of readings."""
    changes: int
    told: bytes
    """What is told of the lot itself, as JSON."""
    line: str | None = None
    opened_at: datetime
    closed_at: datetime | None = None
    """Since when it has been closed without a break."""
    outcome: LotOutcome | None = None
    disposition: Disposing | None = None


class LotHistory:
    """A lot as far as its changes were folded. What is read from it must not be kept: the next change alters it."""

    def __init__(self, lot: str) -> None:
        """Before its first change."""
        self.lot = lot
        self.row: LotRow | None = None
        """What it comes to; None before its first change."""
        self.carried: list[Carried] = []
        """Where the classes of its line stood; it counts where nobody told how the lot is inspected."""
        self.is_resubmitted = False
        self.changes = self.strikes = self.taken = 0
        self.known: dict[str, KnownChange] = {}
        self.columns: dict[Any, Column] = {}
        self.placed: dict[str, Placed] = {}
        self.verdicts: list[VerdictRecord] = []
        self.handled, self.claims = LotDispositions(), Claims()
        self.marks: dict[str, Marks] = {}
        """By batch, what was known of its instrument where that is kept here."""
        self.seen_at = 0.0
        """When it was compared last with what is kept, in seconds of a clock that only grows."""
        self.standing: object = None
        """What the use cases have worked out of it last, set by `stand`."""
        self.used: object = None
        """The same for checks."""
        self.bytes = OF_A_LOT
        """So much memory it takes, about."""
        self.bytes_of_standing = 0
        self.weighed: Callable[[int], None] | None = None
        """Told of each gain by who keeps it in memory."""
        self.others: dict[str, list[Any]] = {"counts": [], "declared": [], "dates": []}

    def with_change(self, change: Change) -> "LotHistory":
        """Another one with a change more; this one stays as it is."""
        made = copy(self)
        made.weighed = None
        made.known, made.placed, made.verdicts = self.known.copy(), self.placed.copy(), self.verdicts.copy()
        made.marks, made.handled, made.claims = self.marks.copy(), self.handled.copy(), self.claims.copy()
        made.columns = {key: column.copy() for key, column in self.columns.items()}
        made.others = {name: items.copy() for name, items in self.others.items()}
        made.add(change)
        return made

    def add(self, change: Change) -> None:
        """One change more; one that is in already is left alone."""
        if change.number <= self.changes:
            return
        assert change.number == self.changes + 1
        self.changes, self.row = change.number, row_after(self.row, self.lot, change)
        self.known[change.key] = KnownChange(change.number, change.kind, change.digest)
        self._gain(OF_A_CHANGE + TIMES_ITS_DOCUMENT * len(change.document))
        fold = _FOLDS.get(change.kind)
        if fold:
            fold(self, change)

    def stand(self, standing: object, requirements: int) -> None:
        """Keep where it stands, worked out for so many requirements."""
        self.standing, before = standing, self.bytes_of_standing
        self.bytes_of_standing = OF_A_REQUIREMENT * requirements
        self._gain(self.bytes_of_standing - before)

    def _gain(self, by: int) -> None:
        self.bytes += by
        if self.weighed:
            self.weighed(by)

    @property
    def grade(self) -> str:
        """By which it is judged; "" before its first change."""
        return self.row.grade if self.row else ""

    @property
    def revision(self) -> int:
        """Of the grade; 0 before its first change."""
        return self.row.revision if self.row else 0

    @property
    def told(self) -> Told:
        """What is told of the lot itself."""
        return _TOLD.decode(self.row.told) if self.row else Told()

    def evidence(self) -> Evidence:
        """The document, for as long as no further change comes."""
        told = self.told
        by_class = [each.told for each in self.carried] if told.inspection is UNSET else []
        lot = Lot(self.lot, told.size, told.inspection, told.length, told.mass, by_class or UNSET)
        series = [each.series() for each in self.columns.values()]
        others = {name: [each for each in items if each is not None] or UNSET for name, items in self.others.items()}
        return Evidence(lot, series or UNSET, **others)

    @property
    def readings(self) -> dict[str, tuple[int, int]]:
        """(how many were taken, how many of them are struck) by characteristic."""
        found: dict[str, tuple[int, int]] = {}
        for column in self.columns.values():
            taken, struck = found.get(column.head.characteristic, (0, 0))
            found[column.head.characteristic] = (taken + len(column.values), struck + column.struck)
        return found

    def has(self, batch: str, place: str) -> bool:
        """Whether there is something at a pointer into a batch, or into the opening, which is ""."""
        _, member, number, *rest = place.split("/")
        placed = self.placed[batch]
        if member == "series":
            return int(number) < len(placed.series) and int(rest[1]) < placed.series[int(number)][2]
        return member in placed.others and int(number) < placed.others[member][1]

    def open(self, opening: CarriedOpening) -> None:
        """Its first change."""
        self.carried, self.is_resubmitted = list(opening.carried or ()), bool(opening.resubmits)
        dates = opening.dates or []
        self.others["dates"] += dates
        self.placed[""] = Placed([], {"dates": (0, len(dates))})

    def take(self, batch: MarkedBatch) -> None:
        """Readings, counts, declarations and dates, behind those that are in."""
        self.taken += batch.readings
        if not isinstance(batch.marks, UnsetType):
            self.marks[batch.batch] = batch.marks
        series = []
        for each in batch.marked:
            key = head_key(each)
            column = self.columns.get(key)
            if column is None:
                head = replace(each, values=[], packages=UNSET, remarks=UNSET)
                column = self.columns[key] = Column(head, [], None if isinstance(each.packages, UnsetType) else [])
            series.append((key, len(column.values), len(each.values)))
            column.add(each)
        others: dict[str, tuple[int, int]] = {}
        brought: Mapping[str, list[Counted] | list[DeclaredValue] | list[Dated] | UnsetType]
        brought = {"counts": batch.counts, "declared": batch.declared, "dates": batch.dates}
        for name, items in brought.items():
            if items:
                others[name] = (len(self.others[name]), len(items))
                self.others[name] += items
        self.placed[batch.batch] = Placed(series, others)

    def strike(self, struck: Struck) -> None:
        """Mark readings as struck; leave out counts, declarations and dates."""
        self.strikes += 1
        placed = self.placed[struck.batch]
        for place in struck.at:
            _, member, number, *rest = place.split("/")
            if member == "series":
                key, start, _ = placed.series[int(number)]
                self.columns[key].strike(start + int(rest[1]))
            else:
                self.others[member][placed.others[member][0] + int(number)] = None

    def correct(self, correction: MarkedCorrection) -> None:
        """Strike what was there before, then take what is added."""
        for each in correction.strikes or ():
            self.strike(each)
        self.take(correction.added)

    def judged(self, verdict: VerdictRecord) -> None:
        """One verdict more, which alters nothing of the evidence."""
        self.verdicts.append(verdict)


def row_after(row: LotRow | None, lot: str, change: Change) -> LotRow:
    """The lot as its next change leaves it.

    row  the lot before the change, None before its first one

    Raises msgspec.DecodeError where the document is not one of the change's kind.
    """
    if row is None:
        return _opened(lot, change)
    follow = _ROWS.get(change.kind)
    return replace(follow(row, change) if follow else row, changes=change.number)


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


def _told_more(row: LotRow, change: Change) -> LotRow:
    """A batch tells what was not told before, a correction perhaps otherwise than before."""
    more = _TELLING.decode(change.document).lot
    return row if isinstance(more, UnsetType) else replace(row, told=encoded(merged(_TOLD.decode(row.told), more)))


def _judged(row: LotRow, change: Change) -> LotRow:
    verdict = _VERDICT.decode(change.document)
    closed_at = (row.closed_at or change.at) if verdict.state == "closed" else None
    return replace(row, state=verdict.state, outcome=verdict.outcome.value, closed_at=closed_at)


def assemble(lot: str, changes: Iterable[Change]) -> Evidence:
    """The evidence that these changes come to, the first one first."""
    folded = LotHistory(lot)
    for change in changes:
        folded.add(change)
    return folded.evidence()


def verdict_key(number: int) -> str:
    """The key of the change that tells of a verdict; no id of a caller's own has its first sign."""
    return f"{OF_VERDICTS}{number}"


def merged(told: Told, more: Told) -> Told:
    """What is told of a lot, and what is told now."""
    return Told(*[new if new is not UNSET else old for old, new in zip(_members(told), _members(more), strict=True)])


def _members(told: Told) -> tuple[Any, ...]:
    return told.size, told.inspection, told.length, told.mass


def encoded(document: Struct) -> bytes:
    """A document as it is kept: keys in order, no white space; equal documents are equal bytes."""
    return _encode(document)


def _move(folded: LotHistory, change: Change) -> None:
    moved = _MOVED.decode(change.document)
    folded.carried = list(moved.carried or ())


_FOLDS: Mapping[str, Callable[[LotHistory, Change], None]] = {
    OPENED: lambda folded, change: folded.open(_OPENING.decode(change.document)),
    BATCH: lambda folded, change: folded.take(_BATCH.decode(change.document)),
    STRIKE: lambda folded, change: folded.strike(_STRIKE.decode(change.document).struck),
    CORRECTION: lambda folded, change: folded.correct(_CORRECTION.decode(change.document)),
    MOVED: _move,
    VERDICT: lambda folded, change: folded.judged(_VERDICT.decode(change.document)),
    CONCESSION: lambda folded, change: folded.handled.grant(change),
    DISPOSITION: lambda folded, change: folded.handled.dispose(change),
    CLAIM: lambda folded, change: folded.claims.claim(change),
    SETTLEMENT: lambda folded, change: folded.claims.settle(change),
}
"""What a kind of change does to what is known of a lot; other kinds do nothing."""

_ROWS: Mapping[str, Callable[[LotRow, Change], LotRow]] = {
    BATCH: _told_more,
    CORRECTION: _told_more,
    MOVED: lambda row, change: replace(row, revision=_MOVED.decode(change.document).revision),
    VERDICT: _judged,
    DISPOSITION: lambda row, change: replace(row, disposition=_DISPOSED.decode(change.document).disposition),
}
"""What a kind of change does to the lot's row; other kinds only count."""
