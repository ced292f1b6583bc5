"""What a sample still lacks: how many packages to complete or to draw anew, and the least number of readings that does it."""

from collections.abc import Sequence
from typing import NamedTuple

from service.engine.limits import Over
from service.engine.sampling import SampleSize

ONE = SampleSize(packages=1, readings_per_package=1)
"""Without a sample, one reading suffices."""


class Shortage(NamedTuple):
    """Packages to complete or to draw anew, and readings to take on them; both 0 where the sample is complete."""

    packages: int
    readings: int

    def __bool__(self) -> bool:
        """True where anything is lacking."""
        return self.readings > 0


def shortage_of(size: SampleSize | None, counts: Sequence[int], least: int, over: Over) -> Shortage:
    """What is lacking of a sample.

    size    what the plan asks of this lot; None where there is no plan
    counts  how many readings each package has
    least   so many values it takes to judge at all: readings, or packages where each package's mean is a value

    5 packages with 2 readings each, of which 3 have 2 and one has 1: 2 packages, 3 readings.
    """
    wanted, each = size or ONE
    complete = sum(count >= each for count in counts)
    begun = sorted((count for count in counts if count < each), reverse=True)
    lacking = max(0, wanted - complete)
    completed = begun[:lacking]
    drawn = lacking - len(completed)
    readings = each * lacking - sum(completed)
    values = sum(counts) + readings if over == "readings" else len(counts) + drawn
    more = max(0, least - values)
    return Shortage(lacking + more, readings + more)
