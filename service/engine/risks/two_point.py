"""The smallest plan for two points: a quality to accept with at most one risk, and one to reject with at most another."""

from collections.abc import Callable
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple, Protocol

from service.engine.numbers import nearest_whole
from service.engine.risks.counting import (
    Chances,
    binomial,
    exact_binomial_at_most,
    exact_hypergeometric_at_most,
    hypergeometric,
)
from service.engine.risks.normal import deviations_at
from service.engine.risks.searching import last_that_holds
from service.engine.risks.tolerance import LEAST_SAMPLE, STEPS, NormalSample

MOST_PACKAGES = 100_000
"""A larger plan is none: it would cost more than the lot."""
NEAR, NEARER = 1e-8, 1e-11
"""A probability that steps of recurrence bring this near to a risk is worked out anew; nearer still, exactly. The recurrence is
off by less than 1e-9 after 100,000 steps of three roundings, and `Chances` by less than 1e-12."""


class RiskPoint(NamedTuple):
    """A share nonconforming, and the risk that goes with it; both between 0 and 1."""

    share: Fraction
    risk: Fraction


class ByVariables(NamedTuple):
    """So many readings, and k with four decimals."""

    packages: int
    k: Fraction


class ByAttributes(NamedTuple):
    """So many packages, and Ac."""

    packages: int
    accept: int


class _Quality(Protocol):
    """What is sampled: a process, or a lot that holds so many nonconforming."""

    def chances(self, packages: int) -> Chances:
        """Of the counts in a sample."""

    def exactly_at_most(self, count: int, packages: int) -> Fraction:
        """The probability of so many or fewer, as a fraction."""

    def next_is_bad(self, packages: int, count: int) -> float:
        """The probability that the next package is nonconforming, after so many are found."""

    def of_one_more_package(self, packages: int, count: int) -> float:
        """The probability of the same count in a sample one larger, beside that in this one."""

    def of_one_more_found(self, packages: int, count: int) -> float | None:
        """The probability of one more in the same sample, beside that of this count; None where this one can't be."""


class Process(NamedTuple):
    """Packages of which each is nonconforming with one probability, between 0 and 1."""

    share: Fraction

    def chances(self, packages: int) -> Chances:
        """By the binomial law."""
        return binomial(packages, self.share)

    def exactly_at_most(self, count: int, packages: int) -> Fraction:
        """By the binomial law."""
        return exact_binomial_at_most(count, packages, self.share)

    def next_is_bad(self, packages: int, count: int) -> float:
        """Always the same."""
        return float(self.share)

    def of_one_more_package(self, packages: int, count: int) -> float:
        """C(n + 1, c)·(1 − p)/C(n, c)."""
        return float(1 - self.share) * (packages + 1) / (packages + 1 - count)

    def of_one_more_found(self, packages: int, count: int) -> float | None:
        """C(n, c + 1)·p/(C(n, c)·(1 − p))."""
        return (packages - count) / (count + 1) * float(self.share / (1 - self.share))


class FiniteLot(NamedTuple):
    """A lot that holds so many nonconforming."""

    nonconforming: int
    size: int

    def chances(self, packages: int) -> Chances:
        """By the hypergeometric law."""
        return hypergeometric(packages, self.nonconforming, self.size)

    def exactly_at_most(self, count: int, packages: int) -> Fraction:
        """By the hypergeometric law."""
        return exact_hypergeometric_at_most(count, packages, self.nonconforming, self.size)

    def next_is_bad(self, packages: int, count: int) -> float:
        """Of those that are left."""
        return (self.nonconforming - count) / (self.size - packages)

    def of_one_more_package(self, packages: int, count: int) -> float:
        """C(N − D, n + 1 − c)·C(N, n)/(C(N − D, n − c)·C(N, n + 1))."""
        conforming_left = self.size - self.nonconforming - (packages - count)
        return conforming_left * (packages + 1) / ((packages + 1 - count) * (self.size - packages))

    def of_one_more_found(self, packages: int, count: int) -> float | None:
        """C(D, c + 1)·C(N − D, n − c − 1)/(C(D, c)·C(N − D, n − c))."""
        conforming_left = self.size - self.nonconforming - (packages - count)
        if conforming_left < 0:
            return None
        return (self.nonconforming - count) * (packages - count) / ((count + 1) * (conforming_left + 1))


class _Walk:
    """The probability that a plan accepts, kept up while its n and its Ac grow one by one: each step is one product."""

    def __init__(self, quality: _Quality) -> None:
        """Of a sample of nothing, with nothing in it."""
        self._quality, self._packages, self._accept = quality, 0, 0
        self._at, self._at_most = 1.0, 1.0

    def take_one_more(self) -> None:
        """One package more."""
        self._at_most -= self._at * self._quality.next_is_bad(self._packages, self._accept)
        self._at *= self._quality.of_one_more_package(self._packages, self._accept)
        self._packages += 1

    def accept_one_more(self) -> None:
        """One more in Ac."""
        ratio = self._quality.of_one_more_found(self._packages, self._accept)
        self._accept += 1
        if ratio is None:
            chances = self._quality.chances(self._packages)
            self._at, self._at_most = chances.exactly(self._accept), chances.at_most(self._accept)
        else:
            self._at *= ratio
            self._at_most += self._at

    def beside(self, probability: Fraction) -> int:
        """-1 where the plan accepts less often than that, 0 as often, 1 more often: exactly."""
        difference = self._at_most - float(probability)
        if abs(difference) < NEAR:
            difference = self._quality.chances(self._packages).at_most(self._accept) - float(probability)
        if abs(difference) < NEARER:
            exactly = self._quality.exactly_at_most(self._accept, self._packages)
            return (exactly > probability) - (exactly < probability)
        return 1 if difference > 0 else -1


@lru_cache(maxsize=256)
def by_attributes(producer: RiskPoint, consumer: RiskPoint, lot: int | None = None) -> ByAttributes | None:
    """The smallest n, and for it the smallest Ac, that meet both points; None where none of 100,000 packages or fewer does.

    lot  the lot's size, for the hypergeometric law; None for the binomial one

    A lot at the producer's point is rejected with at most his risk, one at the consumer's accepted with at most his. By the
    hypergeometric law the lot holds at each point the whole number nearest to share × size, half up.
    Each Ac is taken with the least n that protects the
    consumer, and the first that serves the producer is the answer: a larger Ac asks for a larger n.
    """
    good, bad = _Walk(_quality(producer.share, lot)), _Walk(_quality(consumer.share, lot))
    most = MOST_PACKAGES if lot is None else min(lot, MOST_PACKAGES)
    packages = accept = 0
    while True:
        while bad.beside(consumer.risk) > 0:
            if packages == most:
                return None
            good.take_one_more()
            bad.take_one_more()
            packages += 1
        if good.beside(1 - producer.risk) >= 0:
            return ByAttributes(packages, accept)
        good.accept_one_more()
        bad.accept_one_more()
        accept += 1


@lru_cache(maxsize=256)
def by_variables(producer: RiskPoint, consumer: RiskPoint) -> ByVariables | None:
    """The smallest n for which a k of four decimals meets both points, and the smallest such k; None beyond 100,000 readings.

    Sigma is unknown: the producer's point bounds k from above, the consumer's from below, by noncentral t. The smallest
    numeral protects the consumer as asked, and leaves to the producer what is over. Each comparison is certain, in 60 digits
    where a float leaves a doubt.
    """
    bounds = _Bounds(producer, consumer)
    if not bounds.are_crossed(MOST_PACKAGES):
        return None
    crossed = _first(bounds.are_crossed, bounds.guess)
    # There may be no numeral between the bounds yet: then the nearest on either side of them is the first to come in.
    above = bounds.least_steps(crossed)
    served = _first(lambda packages: bounds.serves_producer(packages, above), crossed)
    protected = _first(lambda packages: bounds.protects_consumer(packages, above - 1), crossed)
    packages = max(crossed, min(served, protected))
    steps = bounds.least_steps(packages)
    if packages > MOST_PACKAGES or not bounds.serves_producer(packages, steps):
        return None
    return ByVariables(packages, Fraction(steps, STEPS))


class _Bounds(NamedTuple):
    """Between what k must lie for both points."""

    producer: RiskPoint
    consumer: RiskPoint

    def serves_producer(self, packages: int, steps: int) -> bool:
        """Whether the k of so many steps rejects the producer's quality with at most his risk."""
        return self._good(packages).is_at_most(Fraction(steps, STEPS), self.producer.risk)

    def protects_consumer(self, packages: int, steps: int) -> bool:
        """Whether the k of so many steps accepts the consumer's quality with at most his risk."""
        return not self._bad(packages).is_at_most(Fraction(steps, STEPS), 1 - self.consumer.risk)

    def least_steps(self, packages: int) -> int:
        """The smallest k that protects the consumer, in steps."""
        near = round(STEPS * self._bad(packages).nearly(1 - self.consumer.risk))
        return 1 + last_that_holds(lambda steps: not self.protects_consumer(packages, steps), near)

    def are_crossed(self, packages: int) -> bool:
        """Whether the consumer's bound is not above the producer's; a float is enough to begin with."""
        return self._bad(packages).nearly(1 - self.consumer.risk) <= self._good(packages).nearly(self.producer.risk)

    @property
    def guess(self) -> int:
        """About the n at which they cross. Source: Lieberman and Resnikoff (1955), by the normal law."""
        good, bad = deviations_at(1 - self.producer.share), deviations_at(1 - self.consumer.share)
        kept, caught = deviations_at(1 - self.producer.risk), deviations_at(1 - self.consumer.risk)
        apart = kept + caught
        if apart <= 0:
            return LEAST_SAMPLE
        k = (good * caught + bad * kept) / apart
        return min(MOST_PACKAGES, round((apart / (good - bad)) ** 2 * (1 + k * k / 2)))

    def _good(self, packages: int) -> NormalSample:
        return NormalSample(packages, 1 - self.producer.share)

    def _bad(self, packages: int) -> NormalSample:
        return NormalSample(packages, 1 - self.consumer.share)


def _first(claim: Callable[[int], bool], near: int) -> int:
    """The smallest sample of which the claim is true, if it stays true of larger ones; more than the most where of none."""

    def is_false(packages: int) -> bool:
        return packages < LEAST_SAMPLE or (packages <= MOST_PACKAGES and not claim(packages))

    return 1 + last_that_holds(is_false, near)


def _quality(share: Fraction, lot: int | None) -> _Quality:
    if lot is None:
        return Process(share)
    return FiniteLot(nearest_whole((share * lot).numerator, (share * lot).denominator, "away"), lot)
