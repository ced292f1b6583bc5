"""The readings of one characteristic of a lot: an exact column in the grade's unit, with the package and place of each."""

from bisect import bisect_right
from collections import Counter
from collections.abc import Mapping, Sequence
from fractions import Fraction
from heapq import nsmallest
from itertools import accumulate
from typing import NamedTuple

from service.engine.characteristics.conversions import Conversion
from service.engine.characteristics.limits import Over
from service.engine.characteristics.uncertainties import ExpandedUncertainty
from service.engine.documents import MOST_POINTERS
from service.engine.numbers import Column, computed_once, plain, with_unit

Place = tuple[int, int]
"""A reading's place in the evidence: (index of its series, index of its value in the series)."""


class Pointers(NamedTuple):
    """The first 20 JSON Pointers into the evidence, in the order of the document, and the number of all."""

    first: Sequence[str]
    total: int


NOWHERE = Pointers((), 0)


class Partners(NamedTuple):
    """The other side of derived values: value i was calculated with reading `numbers[i]` of `readings`."""

    readings: "Readings"
    numbers: Sequence[int]


class PickedFrom(NamedTuple):
    """The origin of readings of which some were excluded: the place of each, and the selection that they are."""

    places: Sequence[Place]
    picked_of: "Picked | None" = None


class Picked(NamedTuple):
    """A selection of readings: those with these indices."""

    readings: "Readings"
    numbers: Sequence[int]


class SentUnit(NamedTuple):
    """A unit that readings were sent in, and their conversion to the grade's unit."""

    word: str
    conversion: Conversion


class Readings:
    """All readings of one characteristic in its unit, in the order sent."""

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
        """Take the readings.

        column     their values
        series     (index of the series, number of its readings) in the order of the document
        names      the package of each reading, None for a reading of a package without a name, which has no other reading;
                   None instead of a list: all are such readings
        partners   for readings derived from pairs, the second reading of each pair
        averaged   for derived readings, those whose mean entered every value
        specimens  the number of packages in each reading's specimen; None where each is of one
        origin     the places of the readings, where these are not all that were sent
        """
        self.column, self.series, self.names, self._partners = column, series, names, partners
        self.uncertainties: Sequence[ExpandedUncertainty | None] = ()
        """The uncertainty that each series states, None for a series without one; empty where no series has one."""
        self.sent_unit: SentUnit | None = None
        """The unit that all series were sent in, where it is one and another than the grade's."""
        self._averaged = averaged
        self.specimens, self.origin = specimens, origin

    @property
    def before_selection(self) -> "Readings":
        """The readings that these were selected from; themselves where nothing was excluded."""
        picked_of = self.origin.picked_of if self.origin else None
        return picked_of.readings.before_selection if picked_of else self

    def derive(self, column: Column, partners: Partners | None = None, averaged: Sequence["Readings"] = ()) -> "Readings":
        """Readings with the values of `column`, calculated one by one from these; packages and places are the same."""
        origin = PickedFrom(self.origin.places) if self.origin else None
        # Where these are derived themselves, their own sources are not paired again, but belong to the evidence of each value.
        behind = *([self._partners.readings] if self._partners else []), *self._averaged, *averaged
        return Readings(column, self.series, self.names, partners, behind, specimens=self.specimens, origin=origin)

    @property
    def count(self) -> int:
        """The number of readings."""
        return self.column.count

    @computed_once
    def groups(self) -> Sequence[int]:
        """The package of each reading, numbered from 0 by first appearance; a range where each reading has a different one."""
        if self.names is None:
            return range(self.count)
        names: Sequence[object] = self.names
        if None in names:
            # A new object is equal to nothing else, as a package without a name is.
            names = [object() if name is None else name for name in names]
        distinct = dict.fromkeys(names)
        if len(distinct) == self.count:
            return range(self.count)
        numbers = {name: number for number, name in enumerate(distinct)}
        return [numbers[name] for name in names]

    @computed_once
    def package_counts(self) -> Mapping[int, int]:
        """The number of packages by their number of readings; a composite specimen is one reading of each of its packages."""
        if self.names is None:
            return {1: self.count + self.pooled}
        counts = Counter({1: self.count} if isinstance(self.groups, range) else Counter(self.groups).values())
        return counts + Counter({1: self.pooled}) if self.pooled else counts

    @computed_once
    def pooled(self) -> int:
        """The number of packages in excess of the number of readings, as specimens may be of several packages."""
        return sum(self.specimens) - self.count if self.specimens else 0

    @property
    def packages(self) -> int:
        """The number of packages."""
        if self.names is None and not self.specimens:
            return self.column.count
        return sum(self.package_counts.values())

    def picked(self, numbers: Sequence[int]) -> "Readings | None":
        """The readings with these indices, in the order sent; None for no indices."""
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
        picked.uncertainties, picked.sent_unit = self.uncertainties, self.sent_unit
        return picked

    def values(self, over: Over) -> Column:
        """The values that a requirement over readings or over packages judges; packages by first appearance."""
        return self.column if over == "readings" or self.names is None else self._package_means

    def pointers(self, values: Sequence[int], over: Over) -> Pointers:
        """Pointers to the readings of these values: all readings of a package's mean, and both sides of derived values."""
        if over == "packages" and self.names is not None:
            packages = set(values)
            values = [number for number, group in enumerate(self.groups) if group in packages]
        places, total = [self.place(number) for number in values[:MOST_POINTERS]], len(values)
        if self._partners:
            partners, numbers = self._partners
            # The first 20 of each side are enough for the first 20 of both, so that a long column is not sorted.
            seconds = nsmallest(MOST_POINTERS, [numbers[value] for value in values])
            places, total = sorted([*places, *map(partners.place, seconds)])[:MOST_POINTERS], 2 * total
        return Pointers([pointer(place) for place in places], total)

    def place(self, number: int) -> Place:
        """The place in the evidence of the reading with this index."""
        if self.origin:
            return self.origin.places[number]
        # Places of all readings would be a tuple for each of 100,000; few are ever asked for.
        part = bisect_right(self._ends, number)
        return self.series[part][0], number - (self._ends[part - 1] if part else 0)

    def as_sent(self, value: Fraction) -> str | None:
        """A reading of this value as it was sent, `35.9 kN`; None where it was sent in the grade's unit, or units differ."""
        unit = self.sent_unit
        return unit and with_unit(plain(unit.conversion.back(value)), unit.word)

    @computed_once
    def all_pointers(self) -> Pointers:
        """Pointers to all series of these readings and of the readings that they were derived with."""
        return series_of(self, *([self._partners.readings] if self._partners else []), *self._averaged)

    @computed_once
    def _ends(self) -> Sequence[int]:
        """The number of readings up to the end of each series."""
        return list(accumulate(count for _, count in self.series))

    @computed_once
    def _package_means(self) -> Column:
        return self.column.means(self.groups, self.packages - self.pooled)


def pointer(place: Place) -> str:
    """The JSON Pointer to a reading."""
    return f"/series/{place[0]}/values/{place[1]}"


def series_of(*readings: Readings) -> Pointers:
    """Pointers to the series of these readings, in the order of the document."""
    if len(readings) == 1 and len(readings[0].series) == 1 and readings[0].column.count:
        return Pointers([f"/series/{readings[0].series[0][0]}"], 1)
    numbers = sorted(number for part in readings for number, count in part.series if count)
    return Pointers([f"/series/{number}" for number in numbers[:MOST_POINTERS]], len(numbers))
