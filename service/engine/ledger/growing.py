"""The lot that grows by a few readings at a time: of each batch only what has come with it is looked at and taken up.

A fast path beside `judging.given` and what prepares a lot, which look at all readings anew. It is taken where there is one
series a characteristic, and each part of it, as it came, is ordinary and a column of whole steps. What makes a series ordinary
is asked of its head, which its parts share, and of each value and each package by itself: so the whole is ordinary too. What is
told beside readings is made ready once for as long as it stands: no flaw in it depends on a reading. A test holds that lot and
digest are, after each batch, what the usual way makes of the whole.
"""

from collections import Counter
from hashlib import sha256
from typing import NamedTuple

import msgspec
from msgspec import UNSET, Raw, UnsetType
from msgspec.structs import replace

from service.engine.columns import WholeColumn, joined
from service.engine.compilation import CompiledGrade
from service.engine.digests import PREFIX
from service.engine.evidence import Series
from service.engine.flaws import FlawedDocumentError
from service.engine.ledger.folding import Column, Folded
from service.engine.lots import Lot
from service.engine.ordinary import ordinary_column
from service.engine.preparing import prepare
from service.engine.provenance import digested, digested_series, doubles_as_bytes
from service.engine.readings import Readings

MOST = 1024
"""Readings of one characteristic; from there on numpy pays, however few have come."""
ALL = ""
"""Stands for every characteristic; none has this name."""
_encode = msgspec.json.Encoder().encode


class Ready(NamedTuple):
    """A lot ready to be judged, and the digest of its evidence. The lot must not be kept: the next change alters it."""

    lot: Lot
    digest: str


class Growing:
    """What has come of one lot so far, as one grade takes it."""

    def __init__(self, grade: CompiledGrade) -> None:
        """Nothing yet."""
        self.grade = grade
        self.grown: set[str] = set()
        """The characteristics of which readings have come, and ALL where there is one, since whoever uses it has emptied it."""
        self.asked: dict[str, frozenset[str]] = {}
        """By requirement that was judged, the characteristics whose readings it asked for, whether there were any or not; empty
        where all are to be judged anew."""
        self._by_column: dict[object, _Grown] = {}
        self._readings: dict[str, Readings] = {}
        self._tellings = 0
        self._told: Lot | None = None
        self._document = digested(Folded("").evidence())
        self._is_out = bool(grade.derived)
        """True from the first part on that is not taken up: it stays in the lot, whatever comes later."""

    def ready(self, folded: Folded) -> Ready | None:
        """The lot by now; None where it goes the usual way.

        folded  always the same one, with further changes
        """
        if self._is_out:
            return None
        if self._tellings != folded.tellings:
            self._hear(folded)
        if self._told is None:
            return None
        for number, (key, column) in enumerate(folded.columns.items()):
            grown = self._by_column.get(key)
            has_grown = grown is None or grown.count != len(column.values)
            if (has_grown or column.remarks is not None) and not self._take_up(key, column, number):
                self._is_out = True
                return None
        series = [grown.written for grown in self._by_column.values()]
        return Ready(self._told, self._document.digest(series))

    def _hear(self, folded: Folded) -> None:
        """What is told of the lot beside its readings, which every requirement may rest on; None where it has flaws."""
        self.asked.clear()
        self._tellings, self._told = folded.tellings, None
        evidence = folded.evidence_without_series()
        try:
            told = prepare(self.grade.characteristics, (), self.grade.requirements, evidence, ())
        except FlawedDocumentError:
            return
        # A second stage is looked at with all requirements at once.
        if not told.counts.second:
            self._told, self._document = told._replace(by_characteristic=self._readings), digested(evidence)

    def _take_up(self, key: object, column: Column, number: int) -> bool:
        """Take what has come of a column since the last time; False where that goes the usual way."""
        grown = self._by_column.get(key)
        part, name = _part(column, grown.count if grown else 0), column.head.characteristic
        of = self.grade.characteristics.get(name)
        if part is None or of is None or (grown is None and name in self._readings):
            return False
        taken = ordinary_column(part, None, of)
        if not isinstance(taken, WholeColumn):
            return False
        if grown is None:
            grown = self._by_column[key] = _Grown(taken, part, number)
        else:
            grown.take(taken, part)
        self._readings[name] = grown.readings(column.packages)
        self.grown |= {name, ALL}
        return True


def _part(column: Column, taken: int) -> Series | None:
    """What has come of a column behind so many readings; None where it is not for this way."""
    count, packages = len(column.values), column.packages
    if column.remarks is not None or count > MOST or (packages is not None and len(packages) != count):
        return None
    return replace(column.head, values=column.values[taken:], packages=UNSET if packages is None else packages[taken:])


class _Grown:
    """The readings of one head: their numbers, into which packages they fall, and what goes into the digest."""

    def __init__(self, column: WholeColumn, series: Series, number: int) -> None:
        """The first ones.

        number  of the series in the evidence
        """
        self._numbers, self._step, self._ends = column.numbers, column.step, column.ends
        self._number = number
        self._doubles, self._packages = sha256(doubles_as_bytes(series.values)), bytearray()
        self._group_by_name: dict[str, int] = {}
        self._groups: list[int] = []
        self._sizes: list[int] = []
        self._counts: Counter[int] = Counter()
        self._name(series.packages)
        self.written = digested_series(series, *self._as_digested())
        """What stands for them in the document of which the digest is made."""

    @property
    def count(self) -> int:
        """How many."""
        return len(self._numbers)

    def take(self, column: WholeColumn, series: Series) -> None:
        """Further ones."""
        self._join(column)
        self._doubles.update(doubles_as_bytes(series.values))
        self._name(series.packages)
        packages, values = self._as_digested()
        self.written = replace(self.written, packages=packages, values=values)

    def readings(self, packages: list[str] | None) -> Readings:
        """All of them, each of the package that is named beside it."""
        whole = WholeColumn(self._numbers, self._step, self._ends)
        readings = Readings(whole, [(self._number, self.count)], packages)
        return readings if packages is None else readings.grouped(self._groups, self._counts)

    def _as_digested(self) -> tuple[Raw | UnsetType, str]:
        packages = Raw(b"[" + self._packages + b"]") if self._packages else UNSET
        return packages, PREFIX + self._doubles.hexdigest()

    def _join(self, column: WholeColumn) -> None:
        """Numbers behind the others, all in steps that both are whole multiples of."""
        # The steps of the same unit and as many decimals are one object, and comparing two takes long.
        if column.step is not self._step and column.step != self._step:
            times = column.step / self._step
            if times.denominator != 1:
                both = joined([WholeColumn(self._numbers, self._step), column])
                assert isinstance(both, WholeColumn)
                self._numbers, self._step, self._ends = both.numbers, both.step, both.ends
                return
            column = WholeColumn([number * times.numerator for number in column.numbers], self._step)
        (low, high), (least, greatest) = self._ends, column.ends
        self._ends = min(low, least), max(high, greatest)
        self._numbers += column.numbers

    def _name(self, packages: list[str] | UnsetType) -> None:
        """Their packages, numbered in the order in which they come, and how many packages have so many readings."""
        if not packages:
            return
        self._packages += (b"," if self._packages else b"") + _encode(packages)[1:-1]
        for name in packages:
            group = self._group_by_name.setdefault(name, len(self._sizes))
            if group == len(self._sizes):
                self._sizes.append(0)
            self._groups.append(group)
            self._count_one_more(group)

    def _count_one_more(self, group: int) -> None:
        """A reading more of a package."""
        size = self._sizes[group] = self._sizes[group] + 1
        self._counts[size] += 1
        if size > 1:
            self._counts[size - 1] -= 1
            if not self._counts[size - 1]:
                del self._counts[size - 1]
