"""What a plan does with lots of each quality: how often it accepts, what then leaves, and how many packages are drawn."""

from collections.abc import Callable, Iterator
from fractions import Fraction
from functools import cached_property
from math import sqrt
from typing import Literal, NamedTuple

from msgspec import Struct

from service.engine.numbers import nearest_whole
from service.engine.risks.counting import CountDistribution, binomial, hypergeometric, poisson
from service.engine.risks.noncentral_t import NoncentralT
from service.engine.risks.normal import deviations_at, normal_cdf
from service.engine.sampling.acceptance import AttributesPlan, VariablesPlan

Law = Literal["binomial", "poisson", "hypergeometric"]
BEYOND = 38.0
"""So many standard deviations leave less than the smallest double outside."""
LEAST_APART = 2.0**-50
CERTAINLY, CERTAINLY_MORE = 4, 500
"""Where four times Re and 2,000 more are expected, fewer than Re are found with less than exp(-800), below any double: with m
expected, r or fewer have at most the probability exp(-m + r + r·ln(m/r)), which is Chernoff's bound for either law."""
MOST_EXPECTED = 2.0**40
NEAR_NOTHING, LEAST_REPORTED = 1e-12, 1e-16


class Point(NamedTuple):
    """What becomes of lots of one quality."""

    acceptance: float
    """The probability that the plan accepts: under reduced inspection also by its gap, which goes back to normal."""
    average_outgoing_quality: float
    """In the unit of the quality: what leaves if rejected lots are sorted whole and what is found is made good.

    p·Pa·(N - n)/N, each stage by what is drawn up to it; p·Pa where the lot's size is not told. For a lot that holds so many
    nonconforming this is the usual approximation: it takes what is not drawn for as good as the whole.
    """
    average_sample_number: float
    """In packages, with each sample that is begun drawn to its end."""


class StageReached(NamedTuple):
    """One stage of a plan by attributes."""

    drawn: int
    """Packages up to its end."""
    chance: float
    """Of coming to it."""
    accepts: float
    """The probability that the plan accepts at this stage."""


class AttributesCurve(Struct, frozen=True):
    """A plan by attributes by one law, for a lot of so many packages or of a size that is not told."""

    plan: AttributesPlan
    law: Law
    lot: int | None

    def at(self, quality: Fraction) -> Point:
        """What becomes of lots of this quality.

        quality  nonconforming ones or occurrences a package: 1/100 is 1 %. By the hypergeometric law the lot holds the whole
                 number nearest to quality × size, half up.

        Raises ValueError for the hypergeometric law of a lot whose size is not told.
        """
        held, stages = self._held(quality), list(self._stages(quality))
        leaving = sum(stage.accepts * _left(stage.drawn, self.lot) for stage in stages)
        drawn = sum(stage.chance * sample.packages for stage, sample in zip(stages, self.plan.stages, strict=True))
        return Point(sum(stage.accepts for stage in stages), float(held) * leaving, drawn)

    def accepted_with_at_least(self, probability: float) -> float | None:
        """The worst quality that is accepted so often; None where every quality is."""
        if self.law == "hypergeometric":
            held = self._first_held(lambda acceptance: acceptance < probability)
            return None if held is None else (held - 1) / self._size
        return self._quality_at(probability)

    def accepted_with_at_most(self, probability: float) -> float | None:
        """The best quality that is accepted so seldom; None where none is."""
        if self.law == "hypergeometric":
            held = self._first_held(lambda acceptance: acceptance <= probability)
            return None if held is None else held / self._size
        return self._quality_at(probability)

    @property
    def _size(self) -> int:
        if self.lot is None:
            raise ValueError("The hypergeometric law goes by the lot's size, which is not told.")
        return self.lot

    def _held(self, quality: Fraction) -> Fraction:
        """The quality that the lot has by the law."""
        if self.law != "hypergeometric":
            return quality
        return Fraction(self._nonconforming(quality), self._size)

    def _nonconforming(self, quality: Fraction) -> int:
        return nearest_whole((quality * self._size).numerator, (quality * self._size).denominator, "away")

    def _stages(self, quality: Fraction) -> Iterator[StageReached]:
        """Stage by stage, each with the counts at which the one before left it open."""
        open_at, drawn = {0: 1.0}, 0
        for number, stage in enumerate(self.plan.stages, 1):
            is_last = number == len(self.plan.stages)
            # The last stage decides: below Re it accepts, in a gap between Ac and Re too.
            accept = stage.reject - 1 if is_last else -1 if stage.accept is None else stage.accept
            accepts, going_on = 0.0, dict.fromkeys(range(accept + 1, stage.reject), 0.0)
            for found, chance in open_at.items():
                chances = self._chances(stage.packages, quality, drawn, found)
                accepts += chance * chances.at_most(accept - found)
                for total in going_on:
                    going_on[total] += chance * chances.probability_of(total - found)
            drawn += stage.packages
            yield StageReached(drawn, sum(open_at.values()), accepts)
            open_at = {total: chance for total, chance in going_on.items() if chance > 0}

    def _chances(self, packages: int, quality: Fraction, drawn: int, found: int) -> CountDistribution:
        """Of the counts in the next so many packages, after so many are drawn and found."""
        beyond = self.plan.stages[-1].reject
        if self.law != "hypergeometric" and packages * quality > CERTAINLY * (beyond + CERTAINLY_MORE):
            return CountDistribution(beyond, (1.0,), 1.0)
        match self.law:
            case "binomial":
                return binomial(packages, quality)
            case "poisson":
                return poisson(packages * quality)
            case "hypergeometric":
                return hypergeometric(packages, self._nonconforming(quality) - found, self._size - drawn)

    def _first_held(self, claim: Callable[[float], bool]) -> int | None:
        """The least number nonconforming in the lot at which the claim is true of the acceptance; it stays true above."""
        low, high = -1, self._size
        if not claim(self.at(Fraction(1)).acceptance):
            return None
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (low, middle) if claim(self.at(Fraction(middle, self._size)).acceptance) else (middle, high)
        return high

    def _quality_at(self, probability: float) -> float | None:
        """The quality accepted with that probability: it falls as the quality gets worse."""
        worst = 1.0
        while self.law == "poisson" and worst < MOST_EXPECTED and self._acceptance_at(worst) > probability:
            worst *= 2
        if self._acceptance_at(worst) > probability:
            return None
        return _falling_through(probability, 0.0, worst, self._acceptance_at)

    def _acceptance_at(self, quality: float) -> float:
        return self.at(Fraction(quality)).acceptance


class VariablesCurve(Struct, frozen=True, dict=True):
    """A plan by variables for one limit, and normal readings, one of each package; sigma known or not."""

    plan: VariablesPlan
    sigma_is_known: bool
    lot: int | None

    def at(self, quality: Fraction) -> Point:
        """What becomes of lots of which that share lies outside the limit, 0 to 1.

        P(T′ ≥ k·√n) with T′ noncentral t, n − 1 degrees of freedom and the noncentrality √n·z(1 − p); with sigma known it is
        Φ(√n·(z(1 − p) − k)).
        """
        inside = float("inf") if quality == 0 else float("-inf") if quality == 1 else -deviations_at(quality)
        acceptance = float(quality == 0) if quality in {0, 1} else self._acceptance_at(inside)
        leaving = acceptance * _left(self.plan.packages, self.lot)
        return Point(acceptance, float(quality) * leaving, float(self.plan.packages))

    def accepted_with_at_least(self, probability: float) -> float | None:
        """The worst quality that is accepted so often; None where k is so large or so small that there is none to be told."""
        outside = _falling_through(probability, -BEYOND, BEYOND, lambda deviations: self._acceptance_at(-deviations))
        quality = normal_cdf(outside)
        return quality if LEAST_REPORTED < quality < 1 else None

    def accepted_with_at_most(self, probability: float) -> float | None:
        """The best quality that is accepted so seldom: the same, as no quality is left out between."""
        return self.accepted_with_at_least(probability)

    @cached_property
    def _root(self) -> float:
        return sqrt(self.plan.packages)

    def _acceptance_at(self, deviations: float) -> float:
        """Where the mean lies so many standard deviations inside the limit."""
        k = float(self.plan.k)
        if self.sigma_is_known:
            return normal_cdf(self._root * (deviations - k))
        return NoncentralT(self.plan.packages - 1, self._root * deviations).at_least(self._root * k)


Curve = AttributesCurve | VariablesCurve


def _left(drawn: int, lot: int | None) -> float:
    """The share of the lot that was not drawn."""
    return 1.0 if lot is None else (lot - drawn) / lot


def _falling_through(level: float, low: float, high: float, falls: Callable[[float], float]) -> float:
    """Where a falling function comes through the level, halved down to the last digits of a double."""
    while high - low > LEAST_APART * max(abs(low), abs(high), NEAR_NOTHING):
        middle = (low + high) / 2
        low, high = (middle, high) if falls(middle) > level else (low, middle)
    return (low + high) / 2
