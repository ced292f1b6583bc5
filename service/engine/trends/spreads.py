"""Spreads within lots and overall, and what a process is capable of beside the limits of its grade.

Names as in ISO 22514-1 and -2 (from memory): Cp and Cpk by the spread within, Pp and Ppk by the overall one.
"""

from collections.abc import Sequence
from fractions import Fraction
from math import sqrt
from typing import NamedTuple

from msgspec import UNSET, Struct, UnsetType

from service.engine.numerals import nearest_double, root_of
from service.engine.trends.chi_square import chi_square_at

CONFIDENCE = Fraction(95, 100)
SHARES = ((1 - CONFIDENCE) / 2, (1 + CONFIDENCE) / 2)
DIGITS = 6


class Deviation(Struct, frozen=True, kw_only=True):
    """A standard deviation in the characteristic's unit, and how many degrees of freedom it rests on."""

    standard_deviation: float
    degrees_of_freedom: int


class Interval(Struct, frozen=True, kw_only=True):
    """An interval that holds the true index with 95 % confidence, to six significant digits."""

    lower: float
    upper: float


class Capability(Struct, frozen=True, kw_only=True):
    """The width of the limits in spreads, and how near the mean lies to one; for readings that follow the normal law."""

    spread: float | UnsetType = UNSET
    """Cp or Pp: (U - L)/6s; only where there are two limits."""
    spread_between: Interval | UnsetType = UNSET
    nearest: float
    """Cpk or Ppk: the distance of the mean from the nearest limit in 3s; negative where it is outside."""
    nearest_between: Interval


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


def mean_of(groups: Sequence[Group]) -> Fraction:
    """Of all readings, exactly, from what the lots tell; there is at least one."""
    return sum((each.readings * each.mean for each in groups), Fraction(0)) / sum(each.readings for each in groups)


def within(groups: Sequence[Group]) -> Sum | None:
    """Pooled over lots: the squares about each lot's own mean by Σ(n − 1); None while no lot has two readings."""
    freedom = sum(each.readings - 1 for each in groups)
    return Sum(_squares_within(groups) / freedom, freedom) if freedom else None


def overall(groups: Sequence[Group]) -> Sum | None:
    """The squares about the mean of all by n − 1: those within lots and those of the lots' means; None for one reading."""
    freedom = sum(each.readings for each in groups) - 1
    if freedom < 1:
        return None
    mean = mean_of(groups)
    between = sum((each.readings * (each.mean - mean) ** 2 for each in groups), Fraction(0))
    return Sum((_squares_within(groups) + between) / freedom, freedom)


def _squares_within(groups: Sequence[Group]) -> Fraction:
    return sum(((each.readings - 1) * each.variance for each in groups), Fraction(0))


def capability(mean: Fraction, by: Sum, count: int, lower: Fraction | None, upper: Fraction | None) -> Capability | None:
    """What the process is capable of beside these limits; None where there is no limit, or no spread to measure by.

    count  of all readings, on which the mean rests

    Source of the intervals: that of Cp by the chi-square law of s²; that of Cpk the normal approximation of Bissell (1990),
    Cpk ± z·√(1/9n + Cpk²/2ν), as quoted by Rodriguez, Journal of Quality Technology 24 (1992), with ν = n − 1 (SEEN).
    """
    from service.engine.risks.normal import deviations_at  # noqa: PLC0415  laws of chance load where they are asked for

    apart = [distance for distance in (_less(mean, lower), _less(upper, mean)) if distance is not None]
    if not apart or by.variance == 0:
        return None
    nearest = min(apart)
    index = nearest_double(root_of(nearest**2 / (9 * by.variance), -1 if nearest < 0 else 1))
    half = deviations_at(SHARES[1]) * sqrt(1 / (9 * count) + index**2 / (2 * by.freedom))
    spread: float | UnsetType = UNSET
    if lower is not None and upper is not None:
        spread = nearest_double(root_of((upper - lower) ** 2 / (36 * by.variance)))
    return Capability(
        spread=spread,
        spread_between=UNSET if isinstance(spread, UnsetType) else _by_chi_square(spread, by.freedom),
        nearest=index,
        nearest_between=Interval(lower=_digits(index - half), upper=_digits(index + half)),
    )


def _less(one: Fraction | None, other: Fraction | None) -> Fraction | None:
    return None if one is None or other is None else one - other


def _by_chi_square(index: float, freedom: int) -> Interval:
    """Between which the true Cp lies: ν·s²/σ² follows the chi-square law."""
    lower, upper = (index * sqrt(chi_square_at(share, freedom) / freedom) for share in SHARES)
    return Interval(lower=_digits(lower), upper=_digits(upper))


def _digits(number: float) -> float:
    """To six significant digits."""
    return float(f"{number:.{DIGITS}g}")
