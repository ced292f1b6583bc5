"""The packages of a lot with one content each, by the stage of the sample in which they were drawn."""

from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from service.engine.characteristics import Pointers, Readings
from service.engine.lot import Lot
from service.engine.numbers import Column

SECOND = 2


class Packages(NamedTuple):
    """The contents of all packages that were measured, in the order drawn."""

    readings: Readings
    contents: Column
    """One content for each package: its reading, or the mean of several."""
    first: Sequence[int]
    """The indexes in `contents` of the packages of the first stage."""
    second: Sequence[int]
    """The indexes of the packages of the second stage."""

    @property
    def is_final(self) -> bool:
        """True where no further reading can change a content, as each reading is of another package."""
        return self.readings.names is None

    def short_places(self, floor: Fraction, places: Sequence[int]) -> list[int]:
        """Those of the packages at these indexes whose content is below the floor."""
        if not places:
            return []
        return [places[number] for number in self.contents.picked(places).outside(floor, None)]

    def pointers(self, places: Sequence[int]) -> Pointers:
        """Pointers to the readings of these packages; to all series where there are no packages."""
        return self.readings.pointers(sorted(places), "packages") if places else self.readings.all_pointers


def packages_of(readings: Readings, lot: Lot) -> Packages:
    """The packages that these readings are of; a package belongs to the stage of its first reading."""
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
