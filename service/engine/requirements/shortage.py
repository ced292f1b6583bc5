"""What a sample still lacks: how many packages to complete or to draw anew, and the least number of readings that does it."""

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from msgspec import UNSET, UnsetType
from msgspec.structs import replace

from service.engine.characteristics import Over
from service.engine.documents import Missing
from service.engine.sampling import SampleSize

ONE_READING = SampleSize(packages=1, readings_per_package=1)
"""Without a sample, one reading suffices."""


class Shortage(NamedTuple):
    """Packages to complete or to draw anew, and readings to take on them; both 0 where the sample is complete."""

    packages: int
    readings: int

    def __bool__(self) -> bool:
        """True where anything is lacking."""
        return self.readings > 0

    def of(self, characteristic: str) -> Missing:
        """As a finding gives it."""
        return Missing(characteristic=characteristic, packages=self.packages, readings=self.readings)


NO_SHORTAGE = Shortage(0, 0)


def greatest_needs(missing: Iterable[Missing]) -> list[Missing]:
    """One for each characteristic, as many as the one that asks for most: the same readings serve all that ask for them."""
    found: dict[str | UnsetType, Missing] = {}
    for each in missing:
        known = found.setdefault(each.characteristic, each)
        packages, readings = max(known.packages, each.packages), max(known.readings or 0, each.readings or 0)
        found[each.characteristic] = replace(known, packages=packages, readings=readings or UNSET)
    return list(found.values())


def shortage_of(size: SampleSize | None, counts: Mapping[int, int], least_values: int, over: Over) -> Shortage:
    """What is lacking of a sample.

    size    what the plan asks of this lot; None where there is no plan
    counts  how many packages have so many readings, by that number
    least   so many values it takes to judge at all: readings, or packages where each package's mean is a value

    5 packages with 2 readings each, of which 3 have 2 and one has 1: 2 packages, 3 readings.
    """
    if size is None and sum(counts.values()) >= least_values:
        return NO_SHORTAGE
    wanted, each = size or ONE_READING
    complete = values = 0
    for count, packages in counts.items():
        if count >= each:
            complete += packages
        values += packages if over == "packages" else count * packages
    if complete >= wanted and values >= least_values:
        return NO_SHORTAGE
    lacking = max(0, wanted - complete)
    left, readings = lacking, each * lacking
    for count in sorted((count for count in counts if count < each), reverse=True):
        completed = min(left, counts[count])
        left, readings = left - completed, readings - completed * count
    more = max(0, least_values - values - (readings if over == "readings" else left))
    return Shortage(lacking + more, readings + more)
