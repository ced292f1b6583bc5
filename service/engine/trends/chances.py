"""Confidence limits of a measured spread and of a measured mean, with variance between lots taken into account.

The model is the one-way analysis of variance with random effects: readings are normal about their lot's mean with one variance
σ², the lots' means are normal about one mean with a variance τ², and all are independent of each other. With a lots of n₁ …
readings, m the mean of 1/n, the variance of the lots' means M (each counting once) estimates τ² + m·σ² and follows a chi-square
distribution with a − 1 degrees of freedom, approximately where the lots are of several sizes; the variance within W estimates
σ² with Σ(n − 1). So M + (1 − m)·W estimates σ² + τ². Where lots do not differ, that is no worse than the squares about the
overall mean.

Source of the model with lots of several sizes: Thomas and Hultquist (1978), Annals of Statistics 6, 582–587 (abstract SEEN).
"""

from collections import Counter
from collections.abc import Sequence
from fractions import Fraction
from functools import lru_cache
from math import hypot, sqrt
from typing import NamedTuple

from service.engine.trends.chi_square import chi_square_at
from service.engine.trends.spreads import Pooled, PooledVariance

CONFIDENCE = Fraction(95, 100)
LOW, HIGH = (1 - CONFIDENCE) / 2, (1 + CONFIDENCE) / 2


class Estimate(NamedTuple):
    """A standard deviation with the ends of its 95 % confidence interval."""

    value: float
    lower: float
    upper: float


def variance_parts(lots: Pooled) -> Sequence[PooledVariance]:
    """The parts whose sum is the variance of a reading of any lot: M, and (1 − m)·W where a lot has two readings.

    lots  with at least two readings together
    """
    means, inner = lots.of_means, lots.within
    # One lot does not show how lots differ, so the variance within it is the only part.
    if means is None:
        return [inner] if inner else []
    if inner is None:
        return [means]
    return [means, PooledVariance((1 - _mean_of_reciprocals(lots.sizes)) * inner.variance, inner.freedom)]


def deviation_estimate(parts: Sequence[PooledVariance]) -> Estimate:
    """The standard deviation whose square is the sum of these variances, at least one of them above 0.

    For one part the interval is exact, by the chi-square distribution. Source for more: Graybill and Wang (1980), Journal of
    the American Statistical Association 75, 869–873 (SEEN as quoted): with θ the sum of the parts pᵢ, from θ − √Σ(Gᵢ·pᵢ)² to
    θ + √Σ(Hᵢ·pᵢ)², where G = 1 − ν/χ²(0.975; ν) and H = ν/χ²(0.025; ν) − 1.
    """
    # In place of one number of degrees of freedom by Satterthwaite: this takes no more code, and holds its confidence with few
    # lots too, which `tests/engine/trends/test_capability.py` shows on simulated trends.
    total = float(sum((part.variance for part in parts), Fraction(0)))
    below = hypot(*((1 - part.freedom / _chi_square(HIGH, part.freedom)) * float(part.variance) for part in parts))
    above = hypot(*((part.freedom / _chi_square(LOW, part.freedom) - 1) * float(part.variance) for part in parts))
    return Estimate(sqrt(total), sqrt(total - below), sqrt(total + above))


def mean_half_width(lots: Pooled) -> float:
    """Half the width of the 95 % confidence interval of the mean of all readings; there are at least two.

    The variance of that mean is τ²·Σn²/N² + σ²/N, where τ² is estimated by M − m·W, or by 0 where that is negative; the
    interval uses Student's t with a − 1 degrees of freedom. For one lot: σ²/N with N − 1.
    """
    means, count = lots.of_means, lots.readings
    inside = lots.within.variance if lots.within else Fraction(0)
    if means is None:
        return _student(count - 1) * sqrt(inside / count)
    # Readings alone make the lots' means differ too: what they explain is taken off before the rest is ascribed to the lots.
    between = max(Fraction(0), means.variance - _mean_of_reciprocals(lots.sizes) * inside)
    squares = sum(size**2 for size in lots.sizes)
    return _student(means.freedom) * sqrt(between * squares / count**2 + inside / count)


def _mean_of_reciprocals(sizes: Sequence[int]) -> Fraction:
    """The mean of 1/n over the lots."""
    # Counted by size first, since most lots have the same number of readings and fractions are slow to add.
    return sum((Fraction(times, size) for size, times in Counter(sizes).items()), Fraction(0)) / len(sizes)


@lru_cache(maxsize=1024)
def _chi_square(share: Fraction, freedom: int) -> float:
    return chi_square_at(share, freedom)


@lru_cache(maxsize=1024)
def _student(freedom: int) -> float:
    """The 97.5 % quantile of Student's t: 2.228 for 10 degrees of freedom."""
    from service.engine.risks.noncentral_t import NoncentralT  # distributions are loaded at first use

    return NoncentralT(freedom, 0.0).quantile(HIGH)
