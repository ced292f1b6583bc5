"""Changes of a lot → its evidence: a pure fold, so that the same changes always give the same document."""

from collections.abc import Callable, Iterable, Mapping
from copy import copy
from typing import Any, NamedTuple

import msgspec
from msgspec import UNSET, Struct, UnsetType

from service.engine.evidence import Counted, Dated, DeclaredValue, Evidence, Lot, Remark, Series
from service.engine.ledger.claiming import CLAIM, SETTLEMENT, Claims
from service.engine.ledger.disposing import CONCESSION, DISPOSITION, Handled
from service.engine.ledger.documents import (
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
    VerdictKept,
)

OPENED, BATCH, STRIKE, MOVED, ATTRIBUTES = "opened", "batch", "strike", "revision-moved", "attributes"
CORRECTION = "correction"
VERDICT, OF_VERDICTS = "verdict", "/verdicts/"
"""The kind of a change that tells of a verdict, and how its key begins; its number follows."""
STRUCK: Remark = "struck"

OF_A_LOT, OF_A_CHANGE, TIMES_ITS_DOCUMENT, OF_A_REQUIREMENT = 2400, 600, 5, 200
"""Bytes of memory that a lot takes, a change of it beside so many times its document, and a requirement of where it stands.

Measured by tracemalloc: 2,339 for an open lot, 10,000 for a batch of 100 readings with packages, which has 2,500 as it is kept.
"""

_OPENING, _BATCH = msgspec.json.Decoder(CarriedOpening), msgspec.json.Decoder(MarkedBatch)
_STRIKE, _MOVED = msgspec.json.Decoder(Strike), msgspec.json.Decoder(CarriedMove)
_VERDICT, _CORRECTION = msgspec.json.Decoder(VerdictKept), msgspec.json.Decoder(MarkedCorrection)
_encode = msgspec.json.Encoder(order="sorted").encode


class Known(NamedTuple):
    """A change by the caller's own id: where it stands, what it is, and the digest of what was sent."""

    number: int
    kind: str
    digest: str


class Column(Struct):
    """Readings with one head, from however many batches."""

    head: Series
    values: list[float]
    packages: list[str] | None
    remarks: list[Remark] | None = None
    """Only where one is not empty."""
    struck: int = 0

    def copy(self) -> "Column":
        """Another one that can be changed for itself."""
        packages = None if self.packages is None else self.packages.copy()
        remarks = None if self.remarks is None else self.remarks.copy()
        return Column(self.head, self.values.copy(), packages, remarks, self.struck)

    def add(self, series: Series) -> None:
        """The readings of a series with this head, behind the others."""
        before = len(self.values)
        self.values += series.values
        if self.packages is not None and not isinstance(series.packages, UnsetType):
            self.packages += series.packages
        told = None if isinstance(series.remarks, UnsetType) or not any(series.remarks) else series.remarks
        if told and self.remarks is None:
            self.remarks = [""] * before
        if self.remarks is not None:
            self.remarks += told or [""] * len(series.values)

    def strike(self, place: int) -> None:
        """Mark a reading as struck; it stays where it is."""
        if self.remarks is None:
            self.remarks = [""] * len(self.values)
        self.struck += self.remarks[place] != STRUCK
        self.remarks[place] = STRUCK

    def series(self) -> Series:
        """All of them as one series."""
        return msgspec.structs.replace(
            self.head,
            values=self.values,
            packages=UNSET if self.packages is None else self.packages,
            remarks=UNSET if self.remarks is None else self.remarks,
        )


class Placed(NamedTuple):
    """Where the items of a batch stand among those of the lot."""

    series: list[tuple[object, int, int]]
    """The key of its column, the first place, and how many, of each series."""
    others: Mapping[str, tuple[int, int]]
    """The first place and how many, by `counts`, `declared` and `dates` where it has any."""


class Folded:
    """A lot as far as its changes were folded. What is read from it must not be kept: the next change alters it."""

    def __init__(self, lot: str) -> None:
        """Before its first change."""
        self.lot = lot
        self.grade, self.revision = "", 0
        self.told = Told()
        self.carried: list[Carried] = []
        """Where the classes of its line stood; it counts where nobody told how the lot is inspected."""
        self.is_resubmitted = False
        self.changes = self.strikes = self.taken = 0
        self.known: dict[str, Known] = {}
        self.columns: dict[Any, Column] = {}
        self.placed: dict[str, Placed] = {}
        self.verdicts: list[VerdictKept] = []
        self.handled, self.claims = Handled(), Claims()
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

    def with_change(self, change: Change) -> "Folded":
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
        self.changes = change.number
        self.known[change.key] = Known(change.number, change.kind, change.digest)
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
        self.grade, self.revision, self.told = opening.grade, opening.revision or 0, opening.told
        dates = opening.dates or []
        self.others["dates"] += dates
        self.placed[""] = Placed([], {"dates": (0, len(dates))})

    def take(self, batch: MarkedBatch) -> None:
        """Readings, counts, declarations and dates, behind those that are in."""
        self.taken += batch.readings
        if not isinstance(batch.marks, UnsetType):
            self.marks[batch.batch] = batch.marks
        if not isinstance(batch.lot, UnsetType):
            self.told = both(self.told, batch.lot)
        series = []
        for each in batch.marked:
            key = _head_key(each)
            column = self.columns.get(key)
            if column is None:
                head = msgspec.structs.replace(each, values=[], packages=UNSET, remarks=UNSET)
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

    def judged(self, verdict: VerdictKept) -> None:
        """One verdict more, which alters nothing of the evidence."""
        self.verdicts.append(verdict)


def assemble(lot: str, changes: Iterable[Change]) -> Evidence:
    """The evidence that these changes come to, the first one first."""
    folded = Folded(lot)
    for change in changes:
        folded.add(change)
    return folded.evidence()


def verdict_key(number: int) -> str:
    """The key of the change that tells of a verdict; no id of a caller's own has its first sign."""
    return f"{OF_VERDICTS}{number}"


def both(told: Told, more: Told) -> Told:
    """What is told of a lot, and what is told now."""
    return Told(*[new if new is not UNSET else old for old, new in zip(_members(told), _members(more), strict=True)])


def _members(told: Told) -> tuple[Any, ...]:
    return told.size, told.inspection, told.length, told.mass


def written(document: Struct) -> bytes:
    """A document as it is kept: keys in order, no white space; equal documents are equal bytes."""
    return _encode(document)


def _head_key(series: Series) -> object:
    """What readings must have in common to stand in one column; packages that are named and ones that aren't stand apart."""
    uncertainty = None if isinstance(series.uncertainty, UnsetType) else msgspec.structs.astuple(series.uncertainty)
    return (
        series.characteristic,
        series.unit,
        series.stage or 1,
        series.method,
        uncertainty,
        series.packages_per_specimen,
        series.calibration,
        series.packages is UNSET,
    )


def _move(folded: Folded, change: Change) -> None:
    moved = _MOVED.decode(change.document)
    folded.revision, folded.carried = moved.revision, list(moved.carried or ())


_FOLDS: Mapping[str, Callable[[Folded, Change], None]] = {
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
