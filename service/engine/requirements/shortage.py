"""The shortage of a sample: how many packages to complete or to draw, and the least number of readings that completes it."""

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from msgspec import UNSET, UnsetType
from msgspec.structs import replace

from service.engine.characteristics import Over
from service.engine.documents import Missing
from service.engine.sampling import SampleSize

ONE_READING = SampleSize(packages=1, readings_per_package=1)
"""The sample size where a grade asks for none: one reading is enough."""


class Shortage(NamedTuple):
    """How many packages to complete or to draw, and readings to take on them; both 0 where the sample is complete."""

    packages: int
    readings: int

    def __bool__(self) -> bool:
        """True where readings are missing."""
        return self.readings > 0

    def of(self, characteristic: str) -> Missing:
        """The shortage as a finding reports it."""
        return Missing(characteristic=characteristic, packages=self.packages, readings=self.readings)


NO_SHORTAGE = Shortage(0, 0)


def greatest_needs(missing: Iterable[Missing]) -> list[Missing]:
    """The greatest shortage of each characteristic, one for each, in the order of their first mention."""
    # Not the sum: the same readings complete every sample of a characteristic.
    found: dict[str | UnsetType, Missing] = {}
    for each in missing:
        known = found.setdefault(each.characteristic, each)
        packages, readings = max(known.packages, each.packages), max(known.readings or 0, each.readings or 0)
        found[each.characteristic] = replace(known, packages=packages, readings=readings or UNSET)
    return list(found.values())


def shortage_of(size: SampleSize | None, counts: Mapping[int, int], least_values: int, over: Over) -> Shortage:
    """The shortage of a sample.

    size          of the sample for this lot; None where the grade asks for none
    counts        by number of readings, how many packages have so many
    least_values  how many values a judgement needs at least: readings, or packages where each package's mean is a value

    A sample of 5 packages with 2 readings each, of which 3 packages have 2 and one has 1, lacks 3 readings on 2 packages.
    """
    if size is None and sum(counts.values()) >= least_values:
        return NO_SHORTAGE
    packages_needed, readings_each = size or ONE_READING
    complete = values = 0
    for count, packages in counts.items():
        if count >= readings_each:
            complete += packages
        values += packages if over == "packages" else count * packages
    if complete >= packages_needed and values >= least_values:
        return NO_SHORTAGE
    packages_missing = max(0, packages_needed - complete)
    left, readings = packages_missing, readings_each * packages_missing
    # The fullest packages first, as they need the fewest readings: the answer is the least that completes the sample.
    for count in sorted((count for count in counts if count < readings_each), reverse=True):
        completed = min(left, counts[count])
        left, readings = left - completed, readings - completed * count
    # Without a sample a spread still needs two values; the packages and readings just added count towards them.
    more = max(0, least_values - values - (readings if over == "readings" else left))
    return Shortage(packages_missing + more, readings + more)
