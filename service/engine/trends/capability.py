"""What a process is capable of beside the limits of its grade, and between which two figures each index truly lies.

Names as in ISO 22514-1 and -2 (from memory): Cp and Cpk by the spread within, Pp and Ppk by the overall one.
"""

from collections.abc import Sequence
from fractions import Fraction
from math import hypot
from typing import NamedTuple

from msgspec import UNSET, Struct, UnsetType

from service.engine.numbers import nearest_double, root_of
from service.engine.trends.chances import Estimate, deviation, parts_of_all, reach_of_mean
from service.engine.trends.spreads import Pooled, VarianceSum

DIGITS = 6
BY_LOTS = (
    "The intervals take readings as independent and normal with one spread within their lots, and the lots' own means as "
    "independent and normal about one mean; how much lots differ is counted in."
)
BY_ONE_LOT = (
    "The intervals take readings as independent and normal with one spread. There is one lot, so how much lots differ is not "
    "counted in."
)


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
    assumes: str | UnsetType = UNSET
    """What the intervals take for granted; where it is not so they tell less, or nothing."""


class Limits(NamedTuple):
    """Limits on single readings, exactly; None leaves a side open."""

    lower: Fraction | None = None
    upper: Fraction | None = None


def capability(lots: Pooled, limits: Limits) -> Capability | None:
    """By the spread of readings within their lots; None where it is not known or 0, or where there is no limit."""
    return _capability(lots, limits, lots.within, [lots.within]) if lots.within else None


def performance(lots: Pooled, limits: Limits) -> Capability | None:
    """By the spread of all readings; None for one reading, where all are alike, or where there is no limit.

    The intervals are those of the spread that the lots come from, which the spread of few lots falls short of.
    """
    return _capability(lots, limits, lots.overall, parts_of_all(lots)) if lots.overall else None


def _capability(lots: Pooled, limits: Limits, by: VarianceSum, parts: Sequence[VarianceSum]) -> Capability | None:
    """The indices by one spread, with intervals that rest on these parts of a variance."""
    sides = _less(lots.mean, limits.lower), _less(limits.upper, lots.mean)
    apart = [distance for distance in sides if distance is not None]
    if not apart or by.variance == 0:
        return None
    nearest, width = min(apart), _less(limits.upper, limits.lower)
    return Capability(
        spread=UNSET if width is None else nearest_double(root_of(width**2 / (36 * by.variance))),
        spread_between=UNSET if width is None else _spread_between(float(width), deviation(parts)),
        nearest=nearest_double(root_of(nearest**2 / (9 * by.variance), -1 if nearest < 0 else 1)),
        nearest_between=_nearest_between(float(nearest), reach_of_mean(lots), deviation(parts)),
        assumes=BY_LOTS if len(lots.sizes) > 1 else BY_ONE_LOT,
    )


def _spread_between(width: float, sigma: Estimate) -> Interval:
    """Between which the true Cp or Pp lies."""
    return _interval(width / (6 * sigma.upper), width / (6 * sigma.lower))


def _nearest_between(nearest: float, reach: float, sigma: Estimate) -> Interval:
    """Between which the true Cpk or Ppk lies: what the mean may be off and what the spread may be off, put together.

    Source: the method of recovering variances from limits (MOVER), Zou and Donner (2008), Statistics in Medicine 27,
    1693–1702 (from memory): on either side the root of the sum of both distances squared. Where the degrees of freedom are
    many it is Bissell's Cpk ± z·√(1/9n + Cpk²/2ν) (1990).
    """
    index, of_mean = nearest / (3 * sigma.value), reach / (3 * sigma.value)
    lower, upper = sorted((nearest / (3 * sigma.upper), nearest / (3 * sigma.lower)))
    return _interval(index - hypot(of_mean, index - lower), index + hypot(of_mean, upper - index))


def _less(one: Fraction | None, other: Fraction | None) -> Fraction | None:
    return None if one is None or other is None else one - other


def _interval(lower: float, upper: float) -> Interval:
    """To six significant digits."""
    return Interval(lower=float(f"{lower:.{DIGITS}g}"), upper=float(f"{upper:.{DIGITS}g}"))
