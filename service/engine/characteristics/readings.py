"""The readings of one characteristic of a lot: an exact column in the unit of the grade, by package, and where each stands."""

from bisect import bisect_right
from collections import Counter
from collections.abc import Mapping, Sequence
from heapq import nsmallest
from itertools import accumulate
from typing import NamedTuple

from service.engine.characteristics.limits import Over
from service.engine.characteristics.uncertainties import ExpandedUncertainty
from service.engine.documents import MOST_POINTERS
from service.engine.numbers import Column, computed_once

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


class PickedFrom(NamedTuple):
    """Where readings stand that do not follow each other in their series: their places, and what they were picked of."""

    places: Sequence[Place]
    picked_of: "Picked | None" = None


class Picked(NamedTuple):
    """Which readings of a whole were picked."""

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
        *,
        specimens: Sequence[int] | None = None,
        origin: PickedFrom | None = None,
    ) -> None:
        """Hold them.

        series    (number of the series, how many readings) in the order of the document
        names     each reading's package, None for one of its own; None alone: every reading is of a package of its own
        partners  where they are derived from pairs, the second of each
        averaged  where they are derived, those whose mean went into every value
        specimens of how many packages each reading's specimen is made up; None where each is of one
        origin    where only some of those sent are here, which ones
        """
        self.column, self.series, self.names, self._partners = column, series, names, partners
        self.uncertainties: Sequence[ExpandedUncertainty | None] = ()
        """What each series states; None for one that states none. Empty where none of them does."""
        self._averaged = averaged
        self.specimens, self.origin = specimens, origin

    @property
    def whole(self) -> "Readings":
        """All that these were picked of; themselves where nothing was."""
        picked_of = self.origin.picked_of if self.origin else None
        return picked_of.readings.whole if picked_of else self

    def worked_into(self, column: Column, partners: Partners | None = None, averaged: Sequence["Readings"] = ()) -> "Readings":
        """What is derived from these one by one: values of the same packages, that stand in the same places."""
        origin = PickedFrom(self.origin.places) if self.origin else None
        # What these come from themselves is not paired anew, but stands behind each value all the same.
        behind = *([self._partners.readings] if self._partners else []), *self._averaged, *averaged
        return Readings(column, self.series, self.names, partners, behind, specimens=self.specimens, origin=origin)

    @property
    def count(self) -> int:
        """How many readings."""
        return self.column.count

    @computed_once
    def groups(self) -> Sequence[int]:
        """The package of each reading, numbered from 0 in the order in which they come."""
        if self.names is None:
            return range(self.count)
        names: Sequence[object] = self.names
        if None in names:
            # An object of its own is equal to nothing else, as a package without a name is.
            names = [object() if name is None else name for name in names]
        distinct = dict.fromkeys(names)
        if len(distinct) == self.count:
            return range(self.count)
        numbers = {name: number for number, name in enumerate(distinct)}
        return [numbers[name] for name in names]

    @computed_once
    def package_counts(self) -> Mapping[int, int]:
        """How many packages have so many readings, by that number; a composite specimen is one of each of its packages."""
        if self.names is None:
            return {1: self.count + self.pooled}
        counts = Counter({1: self.count} if isinstance(self.groups, range) else Counter(self.groups).values())
        return counts + Counter({1: self.pooled}) if self.pooled else counts

    @computed_once
    def pooled(self) -> int:
        """How many packages more there are than values, since specimens are made up of several."""
        return sum(self.specimens) - self.count if self.specimens else 0

    @property
    def packages(self) -> int:
        """How many packages."""
        if self.names is None and not self.specimens:
            return self.column.count
        return sum(self.package_counts.values())

    def picked(self, numbers: Sequence[int]) -> "Readings | None":
        """Those of these numbers, in the order sent; None where there is none."""
        if not numbers or len(numbers) == self.count:
            return self if numbers else None
        places = [self.place(number) for number in numbers]
        picked = Readings(
            self.column.picked(numbers),
            list(Counter(number for number, _ in places).items()),
            None if self.names is None else [self.names[number] for number in numbers],
            self._partners and Partners(self._partners.readings, [self._partners.numbers[number] for number in numbers]),
            self._averaged,
            specimens=None if self.specimens is None else [self.specimens[number] for number in numbers],
            origin=PickedFrom(places, Picked(self, numbers)),
        )
        picked.uncertainties = self.uncertainties
        return picked

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
        if self.origin:
            return self.origin.places[number]
        part = bisect_right(self._ends, number)
        return self.series[part][0], number - (self._ends[part - 1] if part else 0)

    @computed_once
    def all_pointers(self) -> Pointers:
        """Every series that the readings, and what else they were derived from, came from; the same for each requirement."""
        return series_of(self, *([self._partners.readings] if self._partners else []), *self._averaged)

    @computed_once
    def _ends(self) -> Sequence[int]:
        """How many readings there are up to the end of each series."""
        return list(accumulate(count for _, count in self.series))

    @computed_once
    def _package_means(self) -> Column:
        return self.column.means(self.groups, self.packages - self.pooled)


def pointer(place: Place) -> str:
    """JSON Pointer to a reading."""
    return f"/series/{place[0]}/values/{place[1]}"


def series_of(*readings: Readings) -> Pointers:
    """Pointers to the series that these readings came from, in the order of the document."""
    if len(readings) == 1 and len(readings[0].series) == 1 and readings[0].column.count:
        return Pointers([f"/series/{readings[0].series[0][0]}"], 1)
    numbers = sorted(number for each in readings for number, count in each.series if count)
    return Pointers([f"/series/{number}" for number in numbers[:MOST_POINTERS]], len(numbers))
