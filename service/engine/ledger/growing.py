"""The lot that grows by a few readings at a time: of each batch only what has come with it is looked at and taken up.

A fast path beside `judging.given` and `ordinary.ordinary_lot`, which look at all readings anew. It is taken where there is one
series a characteristic, and each part of it, as it came, is ordinary and a column of whole steps. What makes a series ordinary
is asked of its head, which its parts share, and of each value and each package by itself: so the whole is ordinary too. A test
holds that lot and digest are, after each batch, what the usual way makes of the whole.
"""

from collections import Counter
from collections.abc import Mapping
from hashlib import sha256
from typing import NamedTuple

import msgspec
from msgspec import UNSET, Raw, UnsetType
from msgspec.structs import replace

from service.engine.characteristics import CompiledCharacteristic
from service.engine.columns import WholeColumn, joined
from service.engine.digests import PREFIX
from service.engine.evidence import Evidence, Series
from service.engine.evidence import Lot as LotDocument
from service.engine.ledger.folding import Column, Folded
from service.engine.lots import Lot, Readings
from service.engine.ordinary import ordinary_lot
from service.engine.preparing import sent
from service.engine.provenance import Written, digest_by_columns, doubles_as_bytes

MOST = 1024
"""Readings of one characteristic; from there on numpy pays, however few have come."""
_encode = msgspec.json.Encoder().encode
_SOME_LOT = LotDocument("")


class Ready(NamedTuple):
    """A lot ready to be judged, and the digest of its evidence. The lot must not be kept: the next change alters it."""

    lot: Lot
    digest: str


class Growing:
    """What has come of one lot so far, as the characteristics of one grade take it."""

    def __init__(self, characteristics: Mapping[str, CompiledCharacteristic]) -> None:
        """Nothing yet.

        characteristics  of a compiled grade whose requirements need none that is derived
        """
        self.characteristics = characteristics
        self._grown: dict[object, _Grown] = {}
        self._told: tuple[Evidence, Lot | None] | None = None
        self._is_out = False
        """True from the first part on that is not taken up: it stays in the lot, whatever comes later."""

    def ready(self, folded: Folded, evidence: Evidence) -> Ready | None:
        """The lot by now; None where it goes the usual way.

        folded    always the same one, with further changes
        evidence  what it comes to
        """
        told = None if self._is_out else self._told_by(evidence)
        if told is None:
            return None
        readings: dict[str, Readings] = {}
        written: list[Written] = []
        for number, (key, column) in enumerate(folded.columns.items()):
            grown = self._taken_up(key, column)
            if grown is None or column.head.characteristic in readings:
                self._is_out = True
                return None
            readings[column.head.characteristic] = grown.readings(number, column)
            written.append(grown.written())
        return Ready(told._replace(by_characteristic=readings), digest_by_columns(evidence, written))

    def _told_by(self, evidence: Evidence) -> Lot | None:
        """The lot without its readings; looked at anew where it is told otherwise than the last time."""
        told = replace(evidence, series=UNSET)
        if self._told is None or self._told[0] != told:
            self._told = told, ordinary_lot(self.characteristics, told, ())
        return self._told[1]

    def _taken_up(self, key: object, column: Column) -> "_Grown | None":
        """The column with what has come since the last time; None where that goes the usual way."""
        grown = self._grown.get(key)
        taken = grown.count if grown else 0
        if grown and taken == len(column.values):
            return grown if column.remarks is None else None
        part = _part(column, taken)
        if part is None:
            return None
        evidence = Evidence(_SOME_LOT, [part])
        lot = ordinary_lot(self.characteristics, evidence, sent(evidence))
        of_part = lot.by_characteristic[part.characteristic].column.in_plain_python() if lot else None
        if not isinstance(of_part, WholeColumn):
            return None
        if grown is None:
            grown = self._grown[key] = _Grown(of_part, part)
        else:
            grown.take(of_part, part)
        return grown


def _part(column: Column, taken: int) -> Series | None:
    """What has come of a column behind so many readings; None where it is not for this way."""
    count, packages = len(column.values), column.packages
    if column.remarks is not None or count > MOST or (packages is not None and len(packages) != count):
        return None
    return replace(column.head, values=column.values[taken:], packages=UNSET if packages is None else packages[taken:])


class _Grown:
    """The readings of one head: their numbers, into which packages they fall, and what goes into the digest."""

    def __init__(self, column: WholeColumn, series: Series) -> None:
        """The first ones."""
        self._numbers, self._step, self._ends = column.numbers, column.step, column.ends
        self._doubles, self._packages = sha256(doubles_as_bytes(series.values)), bytearray()
        self._group_by_name: dict[str, int] = {}
        self._groups: list[int] = []
        self._sizes: list[int] = []
        self._counts: Counter[int] = Counter()
        self._name(series.packages)

    @property
    def count(self) -> int:
        """How many."""
        return len(self._numbers)

    def take(self, column: WholeColumn, series: Series) -> None:
        """Further ones."""
        self._join(column)
        self._doubles.update(doubles_as_bytes(series.values))
        self._name(series.packages)

    def readings(self, number: int, column: Column) -> Readings:
        """All of them, as the series of this number."""
        whole = WholeColumn(self._numbers, self._step, self._ends)
        readings = Readings(whole, [(number, self.count)], column.packages)
        return readings if column.packages is None else readings.grouped(self._groups, self._counts)

    def written(self) -> Written:
        """What stands for them in the document of which the digest is made."""
        packages = Raw(b"[" + self._packages + b"]") if self._packages else UNSET
        return Written(packages, PREFIX + self._doubles.hexdigest())

    def _join(self, column: WholeColumn) -> None:
        """Numbers behind the others, all in steps that both are whole multiples of."""
        if column.step != self._step:
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
