"""Tolerance factors: how many standard deviations a mean must be inside a limit for a content with a confidence."""

from decimal import ROUND_FLOOR, Decimal, localcontext
from fractions import Fraction
from functools import lru_cache

from service.engine.risks.careful import (
    PRECISION,
    decimal_of,
    deviations_exactly_at,
    noncentral_t_at_most,
)
from service.engine.risks.noncentral_t import NoncentralT
from service.engine.risks.normal import HALF
from service.engine.risks.searching import last_that_holds

STEPS = 10_000
"""A factor has four decimals; one exactly between two of them goes up."""
DOUBT, LEAST_DOUBT = 1e-11, 1e-16
"""Ten times what a tail of `NoncentralT` may be off by, of itself and by the rule: what is nearer is worked out with care."""
LEAST_SAMPLE = 2
"""One reading has no standard deviation."""


@lru_cache(maxsize=1024)
def tolerance_factor(sample: int, content: Fraction, confidence: Fraction, *, sigma_is_known: bool = False) -> Fraction:
    """The k with four decimals such that mean − k·s has at least the content above it, with the confidence.

    sample               the number of readings: at least 2, or 1 where sigma is known
    content, confidence  shares, each between 0 and 1

    10 readings, 0.95 and 0.95: 2.9110, and 2.1650 where sigma is known. Each digit is certain: it is decided by comparing
    probabilities on either side of the half-way point, in 60 digits where a float leaves a doubt.
    Raises ValueError for a sample that is too small or a share beyond 0 to 1.
    Source: k·√n is the quantile at the confidence of noncentral t with n − 1 degrees of freedom and the noncentrality
    √n·z(content); with sigma known k is z(content) + z(confidence)/√n.
    """
    if sample < (1 if sigma_is_known else LEAST_SAMPLE):
        raise ValueError(f"{sample} readings have no tolerance factor. Give at least {LEAST_SAMPLE}.")
    if sigma_is_known:
        return _with_sigma_known(sample, content, confidence)
    return _with_sigma_unknown(sample, content, confidence)


def mean_factor(sample: int, confidence: Fraction) -> Fraction:
    """t(confidence; n − 1)/√n with four decimals: so many s a mean of n readings may be off. 50 and 0.995: 0.3790.

    It is the tolerance factor for half of the content, since as much lies above a normal mean as below.
    """
    return tolerance_factor(sample, HALF, confidence)


class NormalSample:
    """Samples of so many readings of a normal population of which a share, the content, lies above a limit."""

    def __init__(self, sample: int, content: Fraction) -> None:
        """At least 2 readings, and a content between 0 and 1."""
        self.sample, self.content = sample, content
        noncentrality = self._times_root(deviations_exactly_at(content))
        self._law = NoncentralT(sample - 1, float(noncentrality))

    def nearly(self, share: Fraction) -> float:
        """The k that (mean − limit)/s is at most in that share of samples, to about ten digits."""
        return self._law.quantile(share) / float(self._times_root(Decimal(1)))

    def is_at_most(self, bound: Fraction, share: Fraction) -> bool:
        """Whether (mean − limit)/s is at most the bound in no more than that share of samples: exactly."""
        scaled, tail = self._times_root(decimal_of(bound)), float(min(share, 1 - share))
        reached = self._law.at_most if share < HALF else self._law.at_least
        difference = reached(float(scaled)) - tail
        if abs(difference) > DOUBT * tail + LEAST_DOUBT:
            return (difference < 0) is (share < HALF)
        noncentrality = self._times_root(deviations_exactly_at(self.content))
        return Fraction(noncentral_t_at_most(scaled, self.sample - 1, noncentrality)) <= share

    def _times_root(self, number: Decimal) -> Decimal:
        with localcontext(prec=PRECISION):
            return number * Decimal(self.sample).sqrt()


def _with_sigma_unknown(sample: int, content: Fraction, confidence: Fraction) -> Fraction:
    law = NormalSample(sample, content)

    def is_reached(steps: int) -> bool:
        """Whether the factor rounds to so many steps or more."""
        return law.is_at_most(Fraction(2 * steps - 1, 2 * STEPS), confidence)

    return Fraction(last_that_holds(is_reached, round(law.nearly(confidence) * STEPS)), STEPS)


def _with_sigma_known(sample: int, content: Fraction, confidence: Fraction) -> Fraction:
    with localcontext(prec=PRECISION):
        factor = deviations_exactly_at(content) + deviations_exactly_at(confidence) / Decimal(sample).sqrt()
        return Fraction(int((factor * STEPS + Decimal("0.5")).to_integral_value(ROUND_FLOOR)), STEPS)
