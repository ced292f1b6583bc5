"""Distributions of the number of nonconforming packages or occurrences in a sample: binomial, Poisson, hypergeometric."""

from collections.abc import Callable, Iterator
from fractions import Fraction
from itertools import islice
from math import comb, fsum
from typing import NamedTuple

# Beyond the mode each distribution falls faster than a geometric series, so that what is cut off is below 1e-30 of the whole
# for samples of at most a thousand million.
NEGLIGIBLE = 1e-40
"""The weight, relative to the mode's, at which the weights are cut off."""

_Ratio = Callable[[int], float]


class CountDistribution(NamedTuple):
    """The probabilities of the counts from `first` on; all others together have less than 1e-30.

    Sums of probabilities are off by less than 1e-12 for samples of at most 100,000. Each weight is calculated from its
    neighbour, starting with 1 at the most likely count, and all are divided by their sum, without factorials or logarithms.
    Each step rounds a few times, so that 10,000 steps away from the most likely count a weight is off by less than 1e-11 of
    itself; the counts that contribute are within a few standard deviations of it.
    """

    first: int
    weights: tuple[float, ...]
    total: float

    def probability_of(self, count: int) -> float:
        """The probability of exactly this count."""
        at = count - self.first
        return self.weights[at] / self.total if 0 <= at < len(self.weights) else 0.0

    def at_most(self, count: int) -> float:
        """The probability of this count or a smaller one; exactly 1.0 from the last count that has a weight on."""
        upto = count - self.first + 1
        if upto <= 0:
            return 0.0
        return 1.0 if upto >= len(self.weights) else fsum(islice(self.weights, upto)) / self.total


def binomial(sample: int, share: Fraction) -> CountDistribution:
    """The distribution of the number nonconforming in a sample from a process with this share nonconforming, 0 to 1.

    2 packages at 1/10: 0.81, 0.18, 0.01.
    """
    if share in {0, 1}:
        return _certain(sample if share else 0)
    odds = float(share / (1 - share))
    likeliest = (sample + 1) * share.numerator // share.denominator
    return _distribution(likeliest, 0, sample, lambda count: (sample - count) / (count + 1) * odds)


def poisson(mean: Fraction) -> CountDistribution:
    """The distribution of the number of occurrences in a sample with this mean, 0 or more. Mean 1: 0.3679, 0.3679, 0.1839."""
    if mean == 0:
        return _certain(0)
    expected = float(mean)
    return _distribution(mean.numerator // mean.denominator, 0, None, lambda count: expected / (count + 1))


def hypergeometric(sample: int, nonconforming: int, lot: int) -> CountDistribution:
    """The distribution of the number nonconforming in a sample drawn from a lot without replacement.

    sample, nonconforming  numbers of packages, neither greater than the lot

    2 packages of a lot of 4 with 2 nonconforming: 1/6, 4/6, 1/6.
    """
    likeliest = (sample + 1) * (nonconforming + 1) // (lot + 2)
    conforming_left = lot - nonconforming - sample

    def ratio(count: int) -> float:
        return (nonconforming - count) * (sample - count) / ((count + 1) * (conforming_left + count + 1))

    return _distribution(likeliest, max(0, -conforming_left), min(sample, nonconforming), ratio)


def exact_binomial_at_most(count: int, sample: int, share: Fraction) -> Fraction:
    """The binomial probability of at most this count, exactly; for the few cases that a float can't decide."""
    part, whole = share.numerator, share.denominator
    rest = whole - part
    if rest == 0:
        return Fraction(count >= sample)
    term = total = rest**sample
    for found in range(min(count, sample)):
        # The division leaves no remainder: each term is a binomial coefficient times powers of whole numbers.
        term = term * (sample - found) * part // ((found + 1) * rest)
        total += term
    return Fraction(total, whole**sample)


def exact_hypergeometric_at_most(count: int, sample: int, nonconforming: int, lot: int) -> Fraction:
    """The hypergeometric probability of at most this count, exactly."""
    conforming = lot - nonconforming
    ways = (comb(nonconforming, found) * comb(conforming, sample - found) for found in range(min(count, sample) + 1))
    return Fraction(sum(ways), comb(lot, sample))


def _certain(count: int) -> CountDistribution:
    return CountDistribution(count, (1.0,), 1.0)


def _distribution(likeliest: int, least: int, greatest: int | None, ratio: _Ratio) -> CountDistribution:
    """The distribution from least to greatest (None: unbounded); `ratio(count)` is weight(count + 1) / weight(count)."""
    # From the mode outwards every weight is at most 1, so none overflows.
    middle = likeliest if greatest is None else max(least, min(likeliest, greatest))
    before = list(_weights_below(middle, least, ratio))
    weights = (*reversed(before), 1.0, *_weights_above(middle, greatest, ratio))
    return CountDistribution(middle - len(before), weights, fsum(weights))


def _weights_below(count: int, least: int, ratio: _Ratio) -> Iterator[float]:
    weight = 1.0
    while count > least and weight > NEGLIGIBLE:
        count -= 1
        weight /= ratio(count)
        yield weight


def _weights_above(count: int, greatest: int | None, ratio: _Ratio) -> Iterator[float]:
    weight = 1.0
    while (greatest is None or count < greatest) and weight > NEGLIGIBLE:
        weight *= ratio(count)
        count += 1
        yield weight
