"""The smallest sampling plan for two points of the operating characteristic: a producer's and a consumer's risk."""

from collections.abc import Callable
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple, Protocol

from service.engine.numbers import nearest_whole
from service.engine.risks.bisection import last_that_holds
from service.engine.risks.counting import (
    CountDistribution,
    binomial,
    exact_binomial_at_most,
    exact_hypergeometric_at_most,
    hypergeometric,
)
from service.engine.risks.normal import deviations_at
from service.engine.risks.tolerance import LEAST_SAMPLE, STEPS, NormalSample

MOST_PACKAGES = 100_000
"""The largest sample that is searched; a larger one would cost more than the lot."""
# The recurrence is off by less than 1e-9 after 100,000 steps of three roundings, and `CountDistribution` by less than 1e-12.
NEAR, NEARER = 1e-8, 1e-11
"""Distances from a risk: within the first a probability is recalculated from the distribution, within the second exactly."""


class RiskPoint(NamedTuple):
    """A share nonconforming and the risk at it, both between 0 and 1."""

    share: Fraction
    risk: Fraction


class ByVariables(NamedTuple):
    """A plan by variables: the number of readings, one a package, and k with four decimals."""

    packages: int
    k: Fraction


class ByAttributes(NamedTuple):
    """A plan by attributes: the number of packages, and Ac."""

    packages: int
    accept: int


class _Quality(Protocol):
    """The quality that is sampled: a process, or a lot with a known number nonconforming. p(c, n): c nonconforming in n."""

    def distribution(self, packages: int) -> CountDistribution:
        """The distribution of the number nonconforming in a sample."""

    def exactly_at_most(self, count: int, packages: int) -> Fraction:
        """The probability of at most this count in a sample, exactly."""

    def next_is_nonconforming(self, packages: int, count: int) -> float:
        """The probability that the next package is nonconforming, after `count` in `packages`."""

    def larger_sample_ratio(self, packages: int, count: int) -> float:
        """The ratio p(count, packages + 1) / p(count, packages)."""

    def larger_count_ratio(self, packages: int, count: int) -> float | None:
        """The ratio p(count + 1, packages) / p(count, packages); None where the latter is 0."""


class Process(NamedTuple):
    """A process in which each package is nonconforming with the same probability, between 0 and 1."""

    share: Fraction

    def distribution(self, packages: int) -> CountDistribution:
        """The binomial distribution."""
        return binomial(packages, self.share)

    def exactly_at_most(self, count: int, packages: int) -> Fraction:
        """The binomial probability of at most this count."""
        return exact_binomial_at_most(count, packages, self.share)

    def next_is_nonconforming(self, packages: int, count: int) -> float:
        """The process's share, whatever was drawn before."""
        return float(self.share)

    def larger_sample_ratio(self, packages: int, count: int) -> float:
        """C(n + 1, c)·(1 − p)/C(n, c)."""
        return float(1 - self.share) * (packages + 1) / (packages + 1 - count)

    def larger_count_ratio(self, packages: int, count: int) -> float | None:
        """C(n, c + 1)·p/(C(n, c)·(1 − p))."""
        return (packages - count) / (count + 1) * float(self.share / (1 - self.share))


class FiniteLot(NamedTuple):
    """A lot of this size with this number of nonconforming packages."""

    nonconforming: int
    size: int

    def distribution(self, packages: int) -> CountDistribution:
        """The hypergeometric distribution."""
        return hypergeometric(packages, self.nonconforming, self.size)

    def exactly_at_most(self, count: int, packages: int) -> Fraction:
        """The hypergeometric probability of at most this count."""
        return exact_hypergeometric_at_most(count, packages, self.nonconforming, self.size)

    def next_is_nonconforming(self, packages: int, count: int) -> float:
        """The share of nonconforming packages among those not yet drawn."""
        return (self.nonconforming - count) / (self.size - packages)

    def larger_sample_ratio(self, packages: int, count: int) -> float:
        """C(N − D, n + 1 − c)·C(N, n)/(C(N − D, n − c)·C(N, n + 1))."""
        conforming_left = self.size - self.nonconforming - (packages - count)
        return conforming_left * (packages + 1) / ((packages + 1 - count) * (self.size - packages))

    def larger_count_ratio(self, packages: int, count: int) -> float | None:
        """C(D, c + 1)·C(N − D, n − c − 1)/(C(D, c)·C(N − D, n − c))."""
        conforming_left = self.size - self.nonconforming - (packages - count)
        if conforming_left < 0:
            return None
        return (self.nonconforming - count) * (packages - count) / ((count + 1) * (conforming_left + 1))


class _AcceptanceProbability:
    """The probability that a plan accepts a quality, updated while its n and Ac are raised one by one."""

    # A new distribution at each n would make the search quadratic; by the recurrence each step is a few products.

    def __init__(self, quality: _Quality) -> None:
        """Start with n = 0 and Ac = 0, where every lot is accepted."""
        self._quality, self._packages, self._accept = quality, 0, 0
        self._at, self._at_most = 1.0, 1.0

    def add_package(self) -> None:
        """Raise n by one."""
        # What was accepted at n with exactly Ac nonconforming is rejected if the next package is nonconforming.
        self._at_most -= self._at * self._quality.next_is_nonconforming(self._packages, self._accept)
        self._at *= self._quality.larger_sample_ratio(self._packages, self._accept)
        self._packages += 1

    def raise_acceptance_number(self) -> None:
        """Raise Ac by one."""
        ratio = self._quality.larger_count_ratio(self._packages, self._accept)
        self._accept += 1
        if ratio is None:
            counts = self._quality.distribution(self._packages)
            self._at, self._at_most = counts.probability_of(self._accept), counts.at_most(self._accept)
        else:
            self._at *= ratio
            self._at_most += self._at

    def compared_with(self, probability: Fraction) -> int:
        """The sign of acceptance probability − probability: -1, 0 or 1; certain."""
        difference = self._at_most - float(probability)
        if abs(difference) < NEAR:
            difference = self._quality.distribution(self._packages).at_most(self._accept) - float(probability)
        if abs(difference) < NEARER:
            exactly = self._quality.exactly_at_most(self._accept, self._packages)
            return (exactly > probability) - (exactly < probability)
        return 1 if difference > 0 else -1


@lru_cache(maxsize=256)
def by_attributes(producer: RiskPoint, consumer: RiskPoint, lot: int | None = None) -> ByAttributes | None:
    """The smallest n, and for it the smallest Ac, that meet both points; None if no plan of at most 100,000 packages does.

    lot  the lot's size, for the hypergeometric distribution; None for the binomial one

    A lot at the producer's point is rejected with at most his risk, one at the consumer's point accepted with at most his.
    By the hypergeometric distribution the lot has at each point the whole number nonconforming that is nearest to
    share × size, half up.
    """
    good = _AcceptanceProbability(_quality(producer.share, lot))
    bad = _AcceptanceProbability(_quality(consumer.share, lot))
    most = MOST_PACKAGES if lot is None else min(lot, MOST_PACKAGES)
    packages = accept = 0
    # Each Ac is tried with the least n that protects the consumer. A larger Ac needs a larger n, so the first pair that
    # also serves the producer has the smallest n.
    while True:
        while bad.compared_with(consumer.risk) > 0:
            if packages == most:
                return None
            good.add_package()
            bad.add_package()
            packages += 1
        if good.compared_with(1 - producer.risk) >= 0:
            return ByAttributes(packages, accept)
        good.raise_acceptance_number()
        bad.raise_acceptance_number()
        accept += 1


@lru_cache(maxsize=256)
def by_variables(producer: RiskPoint, consumer: RiskPoint) -> ByVariables | None:
    """The smallest n at which a k of four decimals meets both points, and the smallest such k; None beyond 100,000 readings.

    Sigma is unknown: the producer's point bounds k from above and the consumer's from below, by noncentral t. The smallest k
    gives the consumer no more than the protection asked for, and the rest to the producer. Each comparison is certain.
    """
    bounds = _Bounds(producer, consumer)
    if not bounds.are_crossed(MOST_PACKAGES):
        return None
    crossed = _smallest_sample(bounds.are_crossed, bounds.guess)
    # At that n there may be no numeral of four decimals between the bounds yet. As they move apart with n, the first to come
    # between them is the nearest one above or the nearest one below.
    above = bounds.least_steps(crossed)
    served = _smallest_sample(lambda packages: bounds.serves_producer(packages, above), crossed)
    protected = _smallest_sample(lambda packages: bounds.protects_consumer(packages, above - 1), crossed)
    packages = max(crossed, min(served, protected))
    steps = bounds.least_steps(packages)
    if packages > MOST_PACKAGES or not bounds.serves_producer(packages, steps):
        return None
    return ByVariables(packages, Fraction(steps, STEPS))


class _Bounds(NamedTuple):
    """The bounds on k at two points; k is counted in steps of 0.0001."""

    producer: RiskPoint
    consumer: RiskPoint

    def serves_producer(self, packages: int, steps: int) -> bool:
        """Whether this k rejects the producer's quality with at most his risk."""
        return self._good(packages).is_at_most(Fraction(steps, STEPS), self.producer.risk)

    def protects_consumer(self, packages: int, steps: int) -> bool:
        """Whether this k accepts the consumer's quality with at most his risk."""
        return not self._bad(packages).is_at_most(Fraction(steps, STEPS), 1 - self.consumer.risk)

    def least_steps(self, packages: int) -> int:
        """The smallest k that protects the consumer."""
        near = round(STEPS * self._bad(packages).approximate_quantile(1 - self.consumer.risk))
        return 1 + last_that_holds(lambda steps: not self.protects_consumer(packages, steps), near)

    def are_crossed(self, packages: int) -> bool:
        """Whether the consumer's lower bound is not above the producer's upper one, by floats, where the search begins."""
        lower = self._bad(packages).approximate_quantile(1 - self.consumer.risk)
        return lower <= self._good(packages).approximate_quantile(self.producer.risk)

    @property
    def guess(self) -> int:
        """The approximate n at which the bounds cross. Source: Lieberman and Resnikoff (1955), by the normal distribution."""
        good, bad = deviations_at(1 - self.producer.share), deviations_at(1 - self.consumer.share)
        producer, consumer = deviations_at(1 - self.producer.risk), deviations_at(1 - self.consumer.risk)
        apart = producer + consumer
        if apart <= 0:
            return LEAST_SAMPLE
        k = (good * consumer + bad * producer) / apart
        return min(MOST_PACKAGES, round((apart / (good - bad)) ** 2 * (1 + k * k / 2)))

    def _good(self, packages: int) -> NormalSample:
        return NormalSample(packages, 1 - self.producer.share)

    def _bad(self, packages: int) -> NormalSample:
        return NormalSample(packages, 1 - self.consumer.share)


def _smallest_sample(claim: Callable[[int], bool], near: int) -> int:
    """The smallest sample for which a claim is true that stays true for larger ones; 100,001 if it is true for none."""

    def is_false(packages: int) -> bool:
        return packages < LEAST_SAMPLE or (packages <= MOST_PACKAGES and not claim(packages))

    return 1 + last_that_holds(is_false, near)


def _quality(share: Fraction, lot: int | None) -> _Quality:
    if lot is None:
        return Process(share)
    return FiniteLot(nearest_whole((share * lot).numerator, (share * lot).denominator, "away"), lot)
