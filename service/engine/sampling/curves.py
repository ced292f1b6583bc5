"""Operating characteristic curves: probability of acceptance, average outgoing quality and average sample number of a plan."""

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
"""Standard deviations beyond which less is left than the smallest double."""
LEAST_APART = 2.0**-50
# With m expected, r or fewer have at most the probability exp(-m + r + r·ln(m/r)), which is Chernoff's bound for the binomial
# and the Poisson distribution. At m = 4·(Re + 500) that is below exp(-800) for fewer than Re, and so below any double.
CERTAIN_FACTOR, CERTAIN_EXTRA = 4, 500
"""Where more than 4·(Re + 500) are expected, Re or more are certain."""
MOST_EXPECTED = 2.0**40
NEAR_NOTHING, LEAST_REPORTED = 1e-12, 1e-16


class Point(NamedTuple):
    """A point of the curves, at one quality of submitted lots."""

    acceptance: float
    """The probability of acceptance, including acceptance in the gap between Ac and Re of reduced inspection."""
    # For the hypergeometric distribution the formula is the usual approximation: it takes the packages that are not drawn to
    # be of the same quality as the whole lot.
    average_outgoing_quality: float
    """The average quality after inspection, in the unit of the quality, if rejected lots are inspected whole and corrected.

    p·Pa·(N - n)/N, summed over stages with n as drawn up to each; p·Pa where the lot's size is not given.
    """
    # Curtailed inspection, which stops within a sample once its outcome is certain, would need fewer.
    average_sample_number: float
    """The mean number of packages drawn, each sample being completed once it is begun."""


class StageReached(NamedTuple):
    """The probabilities of one stage of a plan by attributes."""

    drawn: int
    """The number of packages drawn up to its end."""
    chance: float
    """The probability that the stage is reached."""
    accepts: float
    """The probability that the plan accepts at this stage."""


class AttributesCurve(Struct, frozen=True):
    """The curves of a plan by attributes by one distribution; `lot` is the lot's size in packages, None where not given."""

    plan: AttributesPlan
    law: Law
    lot: int | None

    def at(self, quality: Fraction) -> Point:
        """The point at this quality.

        quality  nonconforming packages or occurrences, a package: 1/100 is 1 %. By the hypergeometric distribution the lot
                 has the whole number nonconforming that is nearest to quality × size, half up.

        Raises ValueError for the hypergeometric distribution of a lot whose size is not given.
        """
        share, stages = self._share_in_lot(quality), list(self._stages(quality))
        accepted_rest = sum(stage.accepts * _share_not_drawn(stage.drawn, self.lot) for stage in stages)
        drawn = sum(stage.chance * sample.packages for stage, sample in zip(stages, self.plan.stages, strict=True))
        return Point(sum(stage.accepts for stage in stages), float(share) * accepted_rest, drawn)

    def accepted_with_at_least(self, probability: float) -> float | None:
        """The worst quality accepted with at least this probability; None where every quality is."""
        if self.law == "hypergeometric":
            nonconforming = self._least_nonconforming(lambda acceptance: acceptance < probability)
            return None if nonconforming is None else (nonconforming - 1) / self._size
        return self._quality_at(probability)

    def accepted_with_at_most(self, probability: float) -> float | None:
        """The best quality accepted with at most this probability; None where no quality is."""
        if self.law == "hypergeometric":
            nonconforming = self._least_nonconforming(lambda acceptance: acceptance <= probability)
            return None if nonconforming is None else nonconforming / self._size
        return self._quality_at(probability)

    @property
    def _size(self) -> int:
        if self.lot is None:
            raise ValueError("The hypergeometric law goes by the lot's size, which is not told.")
        return self.lot

    def _share_in_lot(self, quality: Fraction) -> Fraction:
        """The quality of the lot: by the hypergeometric distribution a whole number of packages divided by its size."""
        if self.law != "hypergeometric":
            return quality
        return Fraction(self._nonconforming(quality), self._size)

    def _nonconforming(self, quality: Fraction) -> int:
        return nearest_whole((quality * self._size).numerator, (quality * self._size).denominator, "away")

    def _stages(self, quality: Fraction) -> Iterator[StageReached]:
        """The stages in order, calculated from the probabilities of the counts that left the stage before undecided."""
        undecided_at, drawn = {0: 1.0}, 0
        for number, stage in enumerate(self.plan.stages, 1):
            is_last = number == len(self.plan.stages)
            # The last stage decides: below Re it accepts, in a gap between Ac and Re too.
            accept = stage.reject - 1 if is_last else -1 if stage.accept is None else stage.accept
            accepts, still_undecided = 0.0, dict.fromkeys(range(accept + 1, stage.reject), 0.0)
            for found, chance in undecided_at.items():
                counts = self._distribution(stage.packages, quality, drawn, found)
                accepts += chance * counts.at_most(accept - found)
                for total in still_undecided:
                    still_undecided[total] += chance * counts.probability_of(total - found)
            drawn += stage.packages
            yield StageReached(drawn, sum(undecided_at.values()), accepts)
            undecided_at = {total: chance for total, chance in still_undecided.items() if chance > 0}

    def _distribution(self, packages: int, quality: Fraction, drawn: int, found: int) -> CountDistribution:
        """The distribution of the number nonconforming in the next packages, after `found` among the first `drawn`."""
        beyond = self.plan.stages[-1].reject
        # Spares the weights of thousands of counts where only one outcome is possible.
        if self.law != "hypergeometric" and packages * quality > CERTAIN_FACTOR * (beyond + CERTAIN_EXTRA):
            return CountDistribution(beyond, (1.0,), 1.0)
        match self.law:
            case "binomial":
                return binomial(packages, quality)
            case "poisson":
                return poisson(packages * quality)
            case "hypergeometric":
                return hypergeometric(packages, self._nonconforming(quality) - found, self._size - drawn)

    def _least_nonconforming(self, claim: Callable[[float], bool]) -> int | None:
        """The least number nonconforming in the lot for which a claim on the acceptance is true; None if for none."""
        # Acceptance falls as the number rises, so the claim stays true above, and bisection finds where it begins.
        low, high = -1, self._size
        if not claim(self.at(Fraction(1)).acceptance):
            return None
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (low, middle) if claim(self.at(Fraction(middle, self._size)).acceptance) else (middle, high)
        return high

    def _quality_at(self, probability: float) -> float | None:
        """The quality accepted with this probability; None where every quality is accepted with more."""
        worst = 1.0
        # Occurrences by the Poisson distribution have no greatest quality: a package may have any number of them.
        while self.law == "poisson" and worst < MOST_EXPECTED and self._acceptance_at(worst) > probability:
            worst *= 2
        if self._acceptance_at(worst) > probability:
            return None
        return _crossing(probability, 0.0, worst, self._acceptance_at)

    def _acceptance_at(self, quality: float) -> float:
        return self.at(Fraction(quality)).acceptance


class VariablesCurve(Struct, frozen=True, dict=True):
    """The curves of a plan by variables for one limit and normal readings, one of each package; sigma known or unknown."""

    plan: VariablesPlan
    sigma_is_known: bool
    lot: int | None

    def at(self, quality: Fraction) -> Point:
        """The point at this quality, the share p outside the limit, 0 to 1.

        The acceptance is P(T′ ≥ k·√n) with T′ noncentral t, n − 1 degrees of freedom and the noncentrality √n·z(1 − p); with
        sigma known it is Φ(√n·(z(1 − p) − k)).
        """
        inside = float("inf") if quality == 0 else float("-inf") if quality == 1 else -deviations_at(quality)
        acceptance = float(quality == 0) if quality in {0, 1} else self._acceptance_at(inside)
        accepted_rest = acceptance * _share_not_drawn(self.plan.packages, self.lot)
        return Point(acceptance, float(quality) * accepted_rest, float(self.plan.packages))

    def accepted_with_at_least(self, probability: float) -> float | None:
        """The worst quality accepted with at least this probability; None where an extreme k leaves none to report."""
        outside = _crossing(probability, -BEYOND, BEYOND, lambda deviations: self._acceptance_at(-deviations))
        quality = normal_cdf(outside)
        return quality if LEAST_REPORTED < quality < 1 else None

    def accepted_with_at_most(self, probability: float) -> float | None:
        """The best quality accepted with at most this probability: the same number, as acceptance is continuous in quality."""
        return self.accepted_with_at_least(probability)

    @cached_property
    def _root(self) -> float:
        return sqrt(self.plan.packages)

    def _acceptance_at(self, deviations: float) -> float:
        """The probability of acceptance where the mean is this many standard deviations inside the limit."""
        k = float(self.plan.k)
        if self.sigma_is_known:
            return normal_cdf(self._root * (deviations - k))
        return NoncentralT(self.plan.packages - 1, self._root * deviations).at_least(self._root * k)


Curve = AttributesCurve | VariablesCurve


def _share_not_drawn(drawn: int, lot: int | None) -> float:
    """The share of the lot that was not drawn; 1 for a lot of unknown size."""
    return 1.0 if lot is None else (lot - drawn) / lot


def _crossing(level: float, low: float, high: float, falling: Callable[[float], float]) -> float:
    """The argument at which a falling function crosses the level, by bisection to the last digits of a double."""
    while high - low > LEAST_APART * max(abs(low), abs(high), NEAR_NOTHING):
        middle = (low + high) / 2
        low, high = (middle, high) if falling(middle) > level else (low, middle)
    return (low + high) / 2
