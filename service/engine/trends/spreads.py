"""Spreads of readings within their lots and overall, exactly."""

from collections.abc import Iterable, Sequence
from fractions import Fraction
from math import lcm
from typing import NamedTuple

from msgspec import Struct

from service.engine.numbers import nearest_double, root_of

LONGEST_COMMON = 4096
"""Bits of a common denominator that sums are still short with."""
GRID = 2**512


class Deviation(Struct, frozen=True, kw_only=True):
    """A standard deviation in the characteristic's unit, and how many degrees of freedom it rests on."""

    standard_deviation: float
    degrees_of_freedom: int


class Group(NamedTuple):
    """The readings of a lot: so many, their mean, and their variance with n − 1, 0 where there is but one."""

    readings: int
    mean: Fraction
    variance: Fraction


class VarianceSum(NamedTuple):
    """A variance, exactly, and its degrees of freedom."""

    variance: Fraction
    freedom: int

    @property
    def spread(self) -> Deviation:
        """As a document gives it."""
        return Deviation(standard_deviation=nearest_double(root_of(self.variance)), degrees_of_freedom=self.freedom)


def short(numbers: Sequence[Fraction]) -> Sequence[Fraction]:
    """The numbers themselves where they have a short common denominator; else each one's nearest multiple of 2⁻⁵¹².

    Readings that were turned round give each lot a denominator of its own, and the squares of a thousand such means sum up to
    one of 100,000 bits, longer than anybody waits. On the grid a figure is off by some 2⁻⁵⁰⁰, so that it rounds to
    another double only where it is that near to the middle between two.
    """
    common = 1
    for number in numbers:
        common = lcm(common, number.denominator)
        if common.bit_length() > LONGEST_COMMON:
            return [Fraction(round(each * GRID), GRID) for each in numbers]
    return numbers


class Pooled(NamedTuple):
    """What the readings of all lots come to together."""

    sizes: Sequence[int]
    """How many readings each lot has."""
    mean: Fraction
    """Of all readings."""
    within: VarianceSum | None
    """The squares about each lot's own mean, by the sum of n less one; None while no lot has two readings."""
    overall: VarianceSum | None
    """The squares about the mean of all, by n less one; None for one reading."""
    of_means: VarianceSum | None
    """Of the lots' means, each counting once, by one less than there are lots; None for one lot."""

    @property
    def readings(self) -> int:
        """How many there are."""
        return sum(self.sizes)


def pooled(groups: Sequence[Group]) -> Pooled:
    """From what the lots tell; there is at least one.

    The squares about the mean of all are those about each lot's own mean and those of the lots' means.
    """
    sizes, means = [each.readings for each in groups], [each.mean for each in groups]
    count = sum(sizes)
    mean = _total(each.readings * each.mean for each in groups) / count
    inside = _total((each.readings - 1) * each.variance for each in groups)
    apart = _total(each.readings * (each.mean - mean) ** 2 for each in groups)
    centre = _total(means) / len(groups)
    return Pooled(
        sizes,
        mean,
        within=_by(inside, count - len(groups)),
        overall=_by(inside + apart, count - 1),
        of_means=_by(_total((each - centre) ** 2 for each in means), len(groups) - 1),
    )


def _by(squares: Fraction, freedom: int) -> VarianceSum | None:
    return VarianceSum(squares / freedom, freedom) if freedom else None


def _total(numbers: Iterable[Fraction]) -> Fraction:
    return sum(numbers, Fraction(0))
