"""One-sided tolerance factors k of normal samples: mean − k·s has a given content above it with a given confidence."""

from decimal import ROUND_FLOOR, Decimal, localcontext
from fractions import Fraction
from functools import lru_cache

from service.engine.risks.bisection import last_that_holds
from service.engine.risks.high_precision import (
    PRECISION,
    decimal_noncentral_t_cdf,
    decimal_normal_quantile,
    decimal_of,
)
from service.engine.risks.noncentral_t import NoncentralT
from service.engine.risks.normal import HALF

STEPS = 10_000
"""Steps of a factor in 1, as it has four decimals; one exactly between two steps is rounded up."""
RELATIVE_DOUBT, ABSOLUTE_DOUBT = 1e-11, 1e-16
"""Ten times the errors of a tail of `NoncentralT` by rounding and by quadrature; what is nearer to an edge is calculated in
60 digits."""
LEAST_SAMPLE = 2
"""The smallest sample with a standard deviation."""


@lru_cache(maxsize=1024)
def tolerance_factor(sample: int, content: Fraction, confidence: Fraction, *, sigma_is_known: bool = False) -> Fraction:
    """The k, to four decimals, for which mean − k·s has at least the content above it with the confidence.

    sample               the number of readings: at least 2, or 1 where sigma is known
    content, confidence  shares, each between 0 and 1

    10 readings, 0.95 and 0.95: 2.9110, and 2.1650 where sigma is known.
    Raises ValueError for a sample that is too small or a share beyond 0 to 1.
    Source: k·√n is the quantile at the confidence of noncentral t with n − 1 degrees of freedom and the noncentrality
    √n·z(content); with sigma known k is z(content) + z(confidence)/√n.
    """
    if sample < (1 if sigma_is_known else LEAST_SAMPLE):
        raise ValueError(f"{sample} readings have no tolerance factor. Give at least {LEAST_SAMPLE}.")
    # The numeral itself is compared with readings, so each digit has to be certain: the probabilities at the two half-way
    # points around it are compared, in 60 digits where a float can't decide.
    if sigma_is_known:
        return _with_sigma_known(sample, content, confidence)
    return _with_sigma_unknown(sample, content, confidence)


def mean_factor(sample: int, confidence: Fraction) -> Fraction:
    """t(confidence; n − 1)/√n to four decimals, by which the mean of n readings may be off in units of s. 50, 0.995: 0.3790."""
    # Half of a normal population is above its mean, so this is the tolerance factor for a content of one half.
    return tolerance_factor(sample, HALF, confidence)


class NormalSample:
    """The distribution of (mean − limit)/s in samples of a normal population with a share, the content, above the limit."""

    def __init__(self, sample: int, content: Fraction) -> None:
        """Take the number of readings, at least 2, and the content, between 0 and 1."""
        self.sample, self.content = sample, content
        noncentrality = self._times_root(decimal_normal_quantile(content))
        self._law = NoncentralT(sample - 1, float(noncentrality))

    def approximate_quantile(self, share: Fraction) -> float:
        """The k with P((mean − limit)/s ≤ k) = share, to about ten digits."""
        return self._law.quantile(share) / float(self._times_root(Decimal(1)))

    def is_at_most(self, bound: Fraction, share: Fraction) -> bool:
        """Whether P((mean − limit)/s ≤ bound) ≤ share; certain."""
        scaled, tail = self._times_root(decimal_of(bound)), float(min(share, 1 - share))
        # The smaller tail is compared, where a float has its full relative precision.
        probability = self._law.at_most if share < HALF else self._law.at_least
        difference = probability(float(scaled)) - tail
        if abs(difference) > RELATIVE_DOUBT * tail + ABSOLUTE_DOUBT:
            return (difference < 0) is (share < HALF)
        noncentrality = self._times_root(decimal_normal_quantile(self.content))
        return Fraction(decimal_noncentral_t_cdf(scaled, self.sample - 1, noncentrality)) <= share

    def _times_root(self, number: Decimal) -> Decimal:
        with localcontext(prec=PRECISION):
            return number * Decimal(self.sample).sqrt()


def _with_sigma_unknown(sample: int, content: Fraction, confidence: Fraction) -> Fraction:
    law = NormalSample(sample, content)

    def is_reached(steps: int) -> bool:
        """Whether the factor rounds to this many steps or more."""
        return law.is_at_most(Fraction(2 * steps - 1, 2 * STEPS), confidence)

    return Fraction(last_that_holds(is_reached, round(law.approximate_quantile(confidence) * STEPS)), STEPS)


def _with_sigma_known(sample: int, content: Fraction, confidence: Fraction) -> Fraction:
    with localcontext(prec=PRECISION):
        factor = decimal_normal_quantile(content) + decimal_normal_quantile(confidence) / Decimal(sample).sqrt()
        return Fraction(int((factor * STEPS + Decimal("0.5")).to_integral_value(ROUND_FLOOR)), STEPS)
