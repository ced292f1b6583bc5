"""The mean that would meet a rule with a chosen chance at the current spread: reported, never decided by.

Contents are taken as normally distributed with the current standard deviation s, and the next sample as having the same s.
Each single check is met with the chance p where the mean is at least

    nominal − f·s + z(p)·s/√n                  for the mean of n packages with the factor f; with a·range in place of f·s
    nominal − T − s·z(q)                       for the shortages beyond T, q being the greatest share of packages beyond it
                                               at which the plan accepts with the chance p
    nominal − t·T − s·z(1 − p^(1/n))           for none short by more than t·T among n packages

and the set-point is the greatest of these, to six significant digits.
"""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from math import exp, expm1, lgamma, log, log1p, sqrt
from typing import NamedTuple

from service.engine.requirements.net_content.figures import ContentPlan
from service.engine.sampling import Stage

HALVINGS = 60
"""Halvings of the interval 0 to 1, which leave 1e-18: far below the six digits that are reported."""


class CurrentSpread(NamedTuple):
    """The spread of the packages in the characteristic's unit: their standard deviation, and the factor times the spread."""

    deviation: float
    allowance: float


class Floors(NamedTuple):
    """Contents in the characteristic's unit: the nominal, the tolerable one, and the least that any package may have."""

    nominal: float
    tolerable: float
    absolute_floor: float | None


def set_point(plan: ContentPlan, floors: Floors, current: CurrentSpread, chance: Fraction) -> float:
    """The mean, in the characteristic's unit, to six significant digits.

    chance  of each check to be met, as a share: 0 < chance < 1
    """
    return float(f"{max(_means(plan, floors, current, chance)):.6g}")


def _means(plan: ContentPlan, floors: Floors, current: CurrentSpread, chance: Fraction) -> Iterator[float]:
    """The least mean for each check."""
    from service.engine.risks.normal import deviations_at  # statistics only where a set-point is asked for

    yield floors.nominal - current.allowance + deviations_at(chance) * current.deviation / sqrt(plan.mean.packages)
    packages = sum(stage.packages for stage in plan.stages)
    # A plan that accepts even where every package is short needs no mean at all, and has no greatest share to search for.
    if acceptance(plan.stages, 1.0) < chance:
        share = _greatest_share(plan.stages, float(chance))
        # A plan that hardly ever rejects needs no mean: its share is 1 to the precision of a double.
        if share < 1:
            yield floors.tolerable - current.deviation * deviations_at(Fraction(share))
    if floors.absolute_floor is not None:
        # 1 − p^(1/n), which is lost in the rounding of p^(1/n) where p is near 1.
        share = -expm1(log1p(-float(1 - chance)) / packages)
        yield floors.absolute_floor - current.deviation * deviations_at(Fraction(share))


def _greatest_share(stages: Sequence[Stage], chance: float) -> float:
    """The greatest share of short packages at which the plan accepts with this chance, by bisection."""
    # Acceptance falls as the share rises, so one end always has the chance and the other does not.
    low, high = 0.0, 1.0
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if acceptance(stages, middle) >= chance else (low, middle)
    return high


def acceptance(stages: Sequence[Stage], share: float) -> float:
    """The probability that the plan accepts, by the binomial distribution, where this share of all packages is short."""
    first, *rest = stages
    accept = -1 if first.accept is None else first.accept
    accepted = sum(_binomial(count, first.packages, share) for count in range(accept + 1))
    for second in rest:
        most = -1 if second.accept is None else second.accept
        for count in range(accept + 1, first.reject):
            further = sum(_binomial(other, second.packages, share) for other in range(most - count + 1))
            accepted += _binomial(count, first.packages, share) * further
    return accepted


def _binomial(count: int, packages: int, share: float) -> float:
    """The binomial probability of `count` short packages among so many, each short with the probability `share`."""
    # By logarithms, since the powers leave a double's range.
    if count > packages:
        return 0.0
    if share <= 0 or share >= 1:
        return float(count == (packages if share >= 1 else 0))
    ways = lgamma(packages + 1) - lgamma(count + 1) - lgamma(packages - count + 1)
    return exp(ways + count * log(share) + (packages - count) * log1p(-share))
