"""How far a spread and a mean that were measured may be from the true ones, where lots differ and where they do not.

The model is the one-way analysis with random effects: readings are normal about their lot's mean with one variance σ², the
lots' means are normal about one mean with a variance τ², and all are independent of each other. With a lots of n₁ … readings,
m the mean of 1/n, the variance of the lots' means M (each counting once) estimates τ² + m·σ² and follows a chi-square law of
a − 1 degrees of freedom, nearly so where the lots are of several sizes; the variance within W estimates σ² with Σ(n − 1).
So M + (1 − m)·W estimates σ² + τ². Where lots do not differ, that is no worse than the squares about the mean of all.

Source of the model with lots of several sizes: Thomas and Hultquist (1978), Annals of Statistics 6, 582–587 (abstract SEEN).
"""

from collections import Counter
from collections.abc import Sequence
from fractions import Fraction
from functools import lru_cache
from math import hypot, sqrt
from typing import NamedTuple

from service.engine.trends.chi_square import chi_square_at
from service.engine.trends.spreads import Pooled, VarianceSum

CONFIDENCE = Fraction(95, 100)
LOW, HIGH = (1 - CONFIDENCE) / 2, (1 + CONFIDENCE) / 2


class Estimate(NamedTuple):
    """A standard deviation, and between which two the true one lies with 95 % confidence."""

    value: float
    lower: float
    upper: float


def parts_of_all(lots: Pooled) -> Sequence[VarianceSum]:
    """What the variance of a reading of any lot is the sum of: M, and (1 − m)·W where a lot has two readings.

    One lot tells nothing of how lots differ; its own variance is all there is then. At least two readings.
    """
    means, inner = lots.of_means, lots.within
    if means is None:
        return [inner] if inner else []
    return [means, VarianceSum((1 - _mean_of_reciprocals(lots.sizes)) * inner.variance, inner.freedom)] if inner else [means]


def deviation(parts: Sequence[VarianceSum]) -> Estimate:
    """The root of the sum of these variances, one of them above 0.

    Of one part the interval is exact, by the chi-square law. Source for more: Graybill and Wang (1980), Journal of the American
    Statistical Association 75, 869–873 (SEEN as quoted): with θ the sum of the parts pᵢ, from θ − √Σ(Gᵢ·pᵢ)² to θ + √Σ(Hᵢ·pᵢ)²,
    where G = 1 − ν/χ²(0.975; ν) and H = ν/χ²(0.025; ν) − 1.
    """
    total = float(sum((each.variance for each in parts), Fraction(0)))
    below = hypot(*((1 - each.freedom / _chi_square(HIGH, each.freedom)) * float(each.variance) for each in parts))
    above = hypot(*((each.freedom / _chi_square(LOW, each.freedom) - 1) * float(each.variance) for each in parts))
    return Estimate(sqrt(total), sqrt(total - below), sqrt(total + above))


def reach_of_mean(lots: Pooled) -> float:
    """So far from the mean of all readings the true mean lies at most, with 95 % confidence; at least two readings.

    The variance of that mean is τ²·Σn²/N² + σ²/N, where τ² is estimated by M − m·W, or 0 where that is below it; it goes with
    Student's t of a − 1 degrees of freedom. Of one lot: σ²/N with N − 1.
    """
    means, count = lots.of_means, lots.readings
    inside = lots.within.variance if lots.within else Fraction(0)
    if means is None:
        return _student(count - 1) * sqrt(inside / count)
    apart = max(Fraction(0), means.variance - _mean_of_reciprocals(lots.sizes) * inside)
    squares = sum(size**2 for size in lots.sizes)
    return _student(means.freedom) * sqrt(apart * squares / count**2 + inside / count)


def _mean_of_reciprocals(sizes: Sequence[int]) -> Fraction:
    """The mean of 1/n, by sizes, as most lots are of the same."""
    return sum((Fraction(times, size) for size, times in Counter(sizes).items()), Fraction(0)) / len(sizes)


@lru_cache(maxsize=1024)
def _chi_square(share: Fraction, freedom: int) -> float:
    return chi_square_at(share, freedom)


@lru_cache(maxsize=1024)
def _student(freedom: int) -> float:
    """Student's t that 97.5 % is below: 2.228 for 10 degrees of freedom."""
    from service.engine.risks.noncentral_t import NoncentralT  # laws of chance load where they are asked for

    return NoncentralT(freedom, 0.0).quantile(HIGH)
