"""Spreads of readings within their lots and overall, exactly."""

from collections.abc import Sequence
from fractions import Fraction
from math import lcm
from typing import NamedTuple

from msgspec import Struct

from service.engine.numerals import nearest_double, root_of

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


class Sum(NamedTuple):
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
    one of 100,000 bits, which takes a quarter of a minute. On the grid a figure is off by some 2⁻⁵⁰⁰, so that it rounds to
    another double only where it is that near to the middle between two.
    """
    common = 1
    for number in numbers:
        common = lcm(common, number.denominator)
        if common.bit_length() > LONGEST_COMMON:
            return [Fraction(round(each * GRID), GRID) for each in numbers]
    return numbers


def mean_of(groups: Sequence[Group]) -> Fraction:
    """Of all readings, from what the lots tell; there is at least one."""
    return sum((each.readings * each.mean for each in groups), Fraction(0)) / readings_in(groups)


def readings_in(groups: Sequence[Group]) -> int:
    """How many there are."""
    return sum(each.readings for each in groups)


def within(groups: Sequence[Group]) -> Sum | None:
    """Pooled over lots: the squares about each lot's own mean by Σ(n − 1); None while no lot has two readings."""
    freedom = sum(each.readings - 1 for each in groups)
    return Sum(_squares_within(groups) / freedom, freedom) if freedom else None


def overall(groups: Sequence[Group]) -> Sum | None:
    """The squares about the mean of all by n − 1: those within lots and those of the lots' means; None for one reading."""
    freedom = readings_in(groups) - 1
    if freedom < 1:
        return None
    mean = mean_of(groups)
    between = sum((each.readings * (each.mean - mean) ** 2 for each in groups), Fraction(0))
    return Sum((_squares_within(groups) + between) / freedom, freedom)


def of_means(groups: Sequence[Group]) -> Sum | None:
    """Of the lots' means, each counting once, by one less than there are lots; None for one lot."""
    freedom = len(groups) - 1
    if freedom < 1:
        return None
    centre = sum((each.mean for each in groups), Fraction(0)) / len(groups)
    return Sum(sum(((each.mean - centre) ** 2 for each in groups), Fraction(0)) / freedom, freedom)


def _squares_within(groups: Sequence[Group]) -> Fraction:
    return sum(((each.readings - 1) * each.variance for each in groups), Fraction(0))
