"""Variances of readings within their lots and overall, exact."""

from collections.abc import Iterable, Sequence
from fractions import Fraction
from math import lcm
from typing import NamedTuple

from msgspec import Struct

from service.engine.numbers import nearest_double, root_of

LONGEST_COMMON = 4096
"""Bits of the longest common denominator with which fractions are added exactly."""
GRID = 2**512
"""Denominator to which fractions with a longer common one are rounded."""


class Deviation(Struct, frozen=True, kw_only=True):
    """A standard deviation in the characteristic's unit, and its degrees of freedom."""

    standard_deviation: float
    degrees_of_freedom: int


class Group(NamedTuple):
    """The readings of a lot: their number, their mean, and their variance with n − 1, which is 0 for one reading."""

    readings: int
    mean: Fraction
    variance: Fraction


class PooledVariance(NamedTuple):
    """A variance, exact, and its degrees of freedom."""

    variance: Fraction
    freedom: int

    @property
    def spread(self) -> Deviation:
        """The standard deviation as reported, rounded once to the nearest double."""
        return Deviation(standard_deviation=nearest_double(root_of(self.variance)), degrees_of_freedom=self.freedom)


def with_short_denominators(numbers: Sequence[Fraction]) -> Sequence[Fraction]:
    """The numbers themselves where their common denominator is short; else the nearest multiple of 2⁻⁵¹² of each."""
    # Readings converted to a reciprocal unit give each lot a denominator of its own, and the squares of a thousand such means
    # add up to one of 100,000 bits, which takes too long. On the grid a figure is off by some 2⁻⁵⁰⁰, so it rounds to another
    # double only where it is as near as that to the middle between two.
    common = 1
    for number in numbers:
        common = lcm(common, number.denominator)
        if common.bit_length() > LONGEST_COMMON:
            return [Fraction(round(number * GRID), GRID) for number in numbers]
    return numbers


class Pooled(NamedTuple):
    """The figures of the readings of all lots together."""

    sizes: Sequence[int]
    """Number of readings, one a lot."""
    mean: Fraction
    """Mean of all readings."""
    within: PooledVariance | None
    """Sum of squares about each lot's own mean, divided by Σ(n - 1); None while no lot has two readings."""
    overall: PooledVariance | None
    """Sum of squares about the mean of all readings, divided by N - 1; None for one reading."""
    of_means: PooledVariance | None
    """Variance of the lots' means, each counted once, with a - 1 for a lots; None for one lot."""

    @property
    def readings(self) -> int:
        """Number of readings of all lots."""
        return sum(self.sizes)


def pooled(groups: Sequence[Group]) -> Pooled:
    """The pooled figures of at least one lot."""
    sizes, means = [each.readings for each in groups], [each.mean for each in groups]
    count = sum(sizes)
    mean = _total(each.readings * each.mean for each in groups) / count
    # The sum of squares about the overall mean is that within lots plus that between them, so no reading is needed again.
    within = _total((each.readings - 1) * each.variance for each in groups)
    between = _total(each.readings * (each.mean - mean) ** 2 for each in groups)
    centre = _total(means) / len(groups)
    return Pooled(
        sizes,
        mean,
        within=_pooled_variance(within, count - len(groups)),
        overall=_pooled_variance(within + between, count - 1),
        of_means=_pooled_variance(_total((each - centre) ** 2 for each in means), len(groups) - 1),
    )


def _pooled_variance(squares: Fraction, freedom: int) -> PooledVariance | None:
    return PooledVariance(squares / freedom, freedom) if freedom else None


def _total(numbers: Iterable[Fraction]) -> Fraction:
    return sum(numbers, Fraction(0))
