"""A lot ready to be judged: its readings as exact columns in the units of the grade, by package, and where they stand."""

from bisect import bisect_right
from collections import Counter
from collections.abc import Mapping, Sequence
from functools import cached_property
from heapq import nsmallest
from itertools import accumulate
from typing import NamedTuple

from service.engine.characteristics import CompiledCharacteristic
from service.engine.columns import Column
from service.engine.dating import Dates
from service.engine.limits import Over
from service.engine.sampling import LotSize
from service.engine.texts import Declarable
from service.engine.uncertainties import Expanded
from service.engine.verdict import MOST_POINTERS

Place = tuple[int, int]
"""(number of the series, number of the value in it)"""


class Pointers(NamedTuple):
    """Places in the evidence: the first 20 in the order of the document, and how many there are."""

    first: Sequence[str]
    total: int


NOWHERE = Pointers((), 0)


class Partners(NamedTuple):
    """What derived values were paired with: the i-th with reading `numbers[i]` of `readings`."""

    readings: "Readings"
    numbers: Sequence[int]


class Readings:
    """All readings of one characteristic, in the order sent, in its unit."""

    def __init__(
        self,
        column: Column,
        series: Sequence[tuple[int, int]],
        names: Sequence[str | None] | None,
        partners: Partners | None = None,
        averaged: Sequence["Readings"] = (),
    ) -> None:
        """Hold them.

        series    (number of the series, how many readings) in the order of the document
        names     each reading's package, None for one of its own; None alone: every reading is of a package of its own
        partners  where they are derived from pairs, the second of each
        averaged  where they are derived, those whose mean went into every value
        """
        self.column, self.series, self.names, self._partners = column, series, names, partners
        self.uncertainties: Sequence[Expanded | None] = ()
        """What each series states; None for one that states none. Empty where none of them does."""
        self._beside = [*([partners.readings] if partners else []), *averaged]

    @property
    def count(self) -> int:
        """How many readings."""
        return self.column.count

    @cached_property
    def groups(self) -> Sequence[int]:
        """The package of each reading, numbered from 0 in the order in which they come."""
        if self.names is None:
            return range(self.count)
        numbers: dict[object, int] = {}
        # An object of its own is equal to nothing else, as a package without a name is.
        return [numbers.setdefault(name if name is not None else object(), len(numbers)) for name in self.names]

    @cached_property
    def package_counts(self) -> Mapping[int, int]:
        """How many packages have so many readings, by that number."""
        return {1: self.count} if self.names is None else Counter(Counter(self.groups).values())

    @property
    def packages(self) -> int:
        """How many packages."""
        return sum(self.package_counts.values())

    def values(self, over: Over) -> Column:
        """What a requirement over readings or over packages judges; packages in the order in which they come."""
        return self.column if over == "readings" or self.names is None else self._package_means

    def pointers(self, values: Sequence[int], over: Over) -> Pointers:
        """Where the readings behind these values stand; a package's mean rests on all of its readings."""
        if over == "packages" and self.names is not None:
            packages = set(values)
            values = [number for number, group in enumerate(self.groups) if group in packages]
        places, total = [self.place(number) for number in values[:MOST_POINTERS]], len(values)
        if self._partners:
            partners, numbers = self._partners
            divisors = nsmallest(MOST_POINTERS, [numbers[value] for value in values])
            places, total = sorted([*places, *map(partners.place, divisors)])[:MOST_POINTERS], 2 * total
        return Pointers([pointer(place) for place in places], total)

    def place(self, number: int) -> Place:
        """Where the reading of this number stands."""
        part = bisect_right(self._ends, number)
        return self.series[part][0], number - (self._ends[part - 1] if part else 0)

    @cached_property
    def all_pointers(self) -> Pointers:
        """Every series that the readings, and what else they were derived from, came from; the same for each requirement."""
        return series_of(self, *self._beside)

    @cached_property
    def _ends(self) -> Sequence[int]:
        """How many readings there are up to the end of each series."""
        return list(accumulate(count for _, count in self.series))

    @cached_property
    def _package_means(self) -> Column:
        return self.column.means(self.groups, self.packages)


class Lot(NamedTuple):
    """What is known about a lot, ready for requirements to ask."""

    sizes: LotSize
    by_characteristic: Mapping[str, Readings]
    """Of measured characteristics, and of those derived reading by reading."""
    declared: Mapping[str, tuple[int, Declarable]]
    """(number in the evidence, value) by characteristic."""
    dates: Dates
    second_stage: frozenset[int] = frozenset()
    """The numbers of the series that are of a second sample."""

    def readings(self, characteristic: CompiledCharacteristic) -> Readings | None:
        """The readings of a characteristic; None where there is none."""
        return self.by_characteristic.get(characteristic.name)


def pointer(place: Place) -> str:
    """JSON Pointer to a reading."""
    return f"/series/{place[0]}/values/{place[1]}"


def series_of(*readings: Readings) -> Pointers:
    """Pointers to the series that these readings came from, in the order of the document."""
    numbers = sorted(number for each in readings for number, count in each.series if count)
    return Pointers([f"/series/{number}" for number in numbers[:MOST_POINTERS]], len(numbers))
