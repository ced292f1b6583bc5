"""How likely so many nonconforming packages, or so many occurrences, are in a sample: three laws of counting."""

from collections.abc import Callable, Iterator
from fractions import Fraction
from itertools import islice
from math import comb, fsum
from typing import NamedTuple

NEGLIGIBLE = 1e-40
"""A weight of so little beside the mode's ends the row. Each law falls off faster than a geometric row from there on, so that
what is left out is below 1e-30 of the whole for samples of at most a thousand million."""

_Ratio = Callable[[int], float]


class Chances(NamedTuple):
    """The probabilities of the counts from `first` on; those before and after are below 1e-30 together.

    Each is found from the one beside it, starting at the likeliest count with the weight 1, and all are divided by their sum:
    no factorial and no logarithm is needed. Every step rounds a few times, so that 10,000 steps away from the likeliest count
    a weight is off by less than 1e-11 of itself; the counts that matter lie within a few standard deviations, and sums are off
    by less than 1e-12 for samples of at most 100,000.
    """

    first: int
    weights: tuple[float, ...]
    total: float

    def exactly(self, count: int) -> float:
        """The probability of that count."""
        at = count - self.first
        return self.weights[at] / self.total if 0 <= at < len(self.weights) else 0.0

    def at_most(self, count: int) -> float:
        """The probability of that count or a smaller one; 1 from the greatest count on that can matter."""
        upto = count - self.first + 1
        if upto <= 0:
            return 0.0
        return 1.0 if upto >= len(self.weights) else fsum(islice(self.weights, upto)) / self.total


def binomial(sample: int, share: Fraction) -> Chances:
    """The number nonconforming in a sample from a process of which that share is nonconforming, 0 to 1.

    2 packages at 1/10: 0.81, 0.18, 0.01.
    """
    if share in {0, 1}:
        return _certain(sample if share else 0)
    odds = float(share / (1 - share))
    likeliest = (sample + 1) * share.numerator // share.denominator
    return _chances(likeliest, 0, sample, lambda count: (sample - count) / (count + 1) * odds)


def poisson(mean: Fraction) -> Chances:
    """The number of occurrences in a sample in which so many are expected, 0 or more. Expecting 1: 0.3679, 0.3679, 0.1839."""
    if mean == 0:
        return _certain(0)
    expected = float(mean)
    return _chances(mean.numerator // mean.denominator, 0, None, lambda count: expected / (count + 1))


def hypergeometric(sample: int, nonconforming: int, lot: int) -> Chances:
    """The number nonconforming in a sample of a lot that holds so many; neither is more than the lot.

    2 packages of a lot of 4 with 2 nonconforming: 1/6, 4/6, 1/6.
    """
    likeliest = (sample + 1) * (nonconforming + 1) // (lot + 2)
    conforming_left = lot - nonconforming - sample

    def ratio(count: int) -> float:
        return (nonconforming - count) * (sample - count) / ((count + 1) * (conforming_left + count + 1))

    return _chances(likeliest, max(0, -conforming_left), min(sample, nonconforming), ratio)


def exact_binomial_at_most(count: int, sample: int, share: Fraction) -> Fraction:
    """The probability of so many or fewer, as a fraction; for the few cases that a float can't tell apart."""
    part, whole = share.numerator, share.denominator
    rest = whole - part
    if rest == 0:
        return Fraction(count >= sample)
    term = total = rest**sample
    for each in range(min(count, sample)):
        # The division leaves no rest: each term is a binomial coefficient times powers of whole numbers.
        term = term * (sample - each) * part // ((each + 1) * rest)
        total += term
    return Fraction(total, whole**sample)


def exact_hypergeometric_at_most(count: int, sample: int, nonconforming: int, lot: int) -> Fraction:
    """The same for a lot that holds so many nonconforming."""
    conforming = lot - nonconforming
    ways = (comb(nonconforming, each) * comb(conforming, sample - each) for each in range(min(count, sample) + 1))
    return Fraction(sum(ways), comb(lot, sample))


def _certain(count: int) -> Chances:
    return Chances(count, (1.0,), 1.0)


def _chances(likeliest: int, least: int, greatest: int | None, ratio: _Ratio) -> Chances:
    """The row around the likeliest count. `ratio(count)` is the weight of the next count beside that of `count`."""
    middle = likeliest if greatest is None else max(least, min(likeliest, greatest))
    before = list(_down(middle, least, ratio))
    weights = (*reversed(before), 1.0, *_up(middle, greatest, ratio))
    return Chances(middle - len(before), weights, fsum(weights))


def _down(count: int, least: int, ratio: _Ratio) -> Iterator[float]:
    weight = 1.0
    while count > least and weight > NEGLIGIBLE:
        count -= 1
        weight /= ratio(count)
        yield weight


def _up(count: int, greatest: int | None, ratio: _Ratio) -> Iterator[float]:
    weight = 1.0
    while (greatest is None or count < greatest) and weight > NEGLIGIBLE:
        weight *= ratio(count)
        count += 1
        yield weight
