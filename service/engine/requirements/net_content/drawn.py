"""The packages of a lot as a net content is judged: one content each, by the stage that they were drawn in."""

from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from service.engine.characteristics import Pointers, Readings
from service.engine.lot import Lot
from service.engine.numbers import Column

SECOND = 2


class Packages(NamedTuple):
    """The contents of all packages that were looked at, in the order drawn."""

    readings: Readings
    contents: Column
    """One a package: its reading, or the mean of several."""
    first: Sequence[int]
    """The places of those of the first stage."""
    second: Sequence[int]

    @property
    def is_final(self) -> bool:
        """True where no further reading can change a content, as every reading is of a package of its own."""
        return self.readings.names is None

    def short_places(self, floor: Fraction, places: Sequence[int]) -> list[int]:
        """Which of these places hold less than the floor."""
        if not places:
            return []
        return [places[number] for number in self.contents.picked(places).outside(floor, None)]

    def pointers(self, places: Sequence[int]) -> Pointers:
        """Where the readings of these packages stand; all series where there are none to point at."""
        return self.readings.pointers(sorted(places), "packages") if places else self.readings.all_pointers


def packages_of(readings: Readings, lot: Lot) -> Packages:
    """The packages behind these readings; a package belongs to the stage of the first reading of it."""
    contents = readings.values("packages")
    seconds = [number for number, _ in readings.series if number in lot.second_stage]
    if not seconds:
        return Packages(readings, contents, range(contents.count), ())
    stage_by_package: dict[int, int] = {}
    place = 0
    for number, count in readings.series:
        for group in readings.groups[place : place + count]:
            stage_by_package.setdefault(group, SECOND if number in lot.second_stage else 1)
        place += count
    first = [package for package, stage in stage_by_package.items() if stage != SECOND]
    second = [package for package, stage in stage_by_package.items() if stage == SECOND]
    return Packages(readings, contents, first, second)
