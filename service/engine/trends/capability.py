"""Process capability relative to the limits of a grade, with a confidence interval for each index.

Names as in ISO 22514-1 and -2 (from memory): Cp and Cpk by the spread within, Pp and Ppk by the overall one.
"""

from collections.abc import Sequence
from fractions import Fraction
from math import hypot
from typing import NamedTuple

from msgspec import UNSET, Struct, UnsetType

from service.engine.numbers import nearest_double, root_of
from service.engine.trends.chances import Estimate, deviation_estimate, mean_half_width, variance_parts
from service.engine.trends.spreads import Pooled, PooledVariance

DIGITS = 6
"""Significant digits to which the ends of an interval are rounded."""
BY_LOTS = (
    "The intervals take readings as independent and normal with one spread within their lots, and the lots' own means as "
    "independent and normal about one mean; how much lots differ is counted in."
)
BY_ONE_LOT = (
    "The intervals take readings as independent and normal with one spread. There is one lot, so how much lots differ is not "
    "counted in."
)


class Interval(Struct, frozen=True, kw_only=True):
    """A 95 % confidence interval of an index, to six significant digits."""

    lower: float
    upper: float


class Capability(Struct, frozen=True, kw_only=True):
    """Capability indices with confidence intervals, for readings that follow a normal distribution."""

    spread: float | UnsetType = UNSET
    """Cp or Pp: (U - L)/6s; only where the grade has both limits."""
    spread_between: Interval | UnsetType = UNSET
    nearest: float
    """Cpk or Ppk: the distance of the mean from the nearest limit, divided by 3s; negative where the mean is outside."""
    nearest_between: Interval
    assumes: str | UnsetType = UNSET
    """The assumptions of the intervals; where they do not hold, the intervals are less reliable or meaningless."""


class Limits(NamedTuple):
    """Limits on single readings, exact, in the unit of the characteristic; None for a side without a limit."""

    lower: Fraction | None = None
    upper: Fraction | None = None


def capability(lots: Pooled, limits: Limits) -> Capability | None:
    """Cp and Cpk, from the spread of readings within lots; None where it is not known or 0, or where there is no limit."""
    return _capability(lots, limits, lots.within, [lots.within]) if lots.within else None


def performance(lots: Pooled, limits: Limits) -> Capability | None:
    """Pp and Ppk, from the spread of all readings; None for one reading, where all are equal, or where there is no limit."""
    # The interval is of the spread that the lots come from, variance between lots included: the overall spread of few lots
    # falls short of that.
    return _capability(lots, limits, lots.overall, variance_parts(lots)) if lots.overall else None


def _capability(lots: Pooled, limits: Limits, by: PooledVariance, parts: Sequence[PooledVariance]) -> Capability | None:
    """The indices from the variance `by`, with intervals from the parts of which the true variance is the sum."""
    sides = _difference(lots.mean, limits.lower), _difference(limits.upper, lots.mean)
    distances = [distance for distance in sides if distance is not None]
    if not distances or by.variance == 0:
        return None
    # Exact up to the root, so that each index is the double nearest to its true value: d/3s is the root of d²/9s².
    nearest, width = min(distances), _difference(limits.upper, limits.lower)
    return Capability(
        spread=UNSET if width is None else nearest_double(root_of(width**2 / (36 * by.variance))),
        spread_between=UNSET if width is None else _spread_between(float(width), deviation_estimate(parts)),
        nearest=nearest_double(root_of(nearest**2 / (9 * by.variance), -1 if nearest < 0 else 1)),
        nearest_between=_nearest_between(float(nearest), mean_half_width(lots), deviation_estimate(parts)),
        assumes=BY_LOTS if len(lots.sizes) > 1 else BY_ONE_LOT,
    )


def _spread_between(width: float, sigma: Estimate) -> Interval:
    """The confidence interval of Cp or Pp."""
    return _interval(width / (6 * sigma.upper), width / (6 * sigma.lower))


def _nearest_between(nearest: float, half_width: float, sigma: Estimate) -> Interval:
    """The confidence interval of Cpk or Ppk, from those of the mean and of the spread.

    nearest     distance of the mean from the nearest limit
    half_width  of the confidence interval of the mean

    Source: the method of variance estimates recovery (MOVER), Zou and Donner (2008), Statistics in Medicine 27, 1693–1702
    (from memory): on either side the root of the sum of both distances squared. For many degrees of freedom it approaches
    Bissell's Cpk ± z·√(1/9n + Cpk²/2ν) (1990).
    """
    index, of_mean = nearest / (3 * sigma.value), half_width / (3 * sigma.value)
    # Sorted, since for a mean outside the limits the index is negative and the smaller spread gives the lower end.
    lower, upper = sorted((nearest / (3 * sigma.upper), nearest / (3 * sigma.lower)))
    return _interval(index - hypot(of_mean, index - lower), index + hypot(of_mean, upper - index))


def _difference(one: Fraction | None, other: Fraction | None) -> Fraction | None:
    return None if one is None or other is None else one - other


def _interval(lower: float, upper: float) -> Interval:
    """The interval with both ends rounded to six significant digits."""
    return Interval(lower=float(f"{lower:.{DIGITS}g}"), upper=float(f"{upper:.{DIGITS}g}"))
