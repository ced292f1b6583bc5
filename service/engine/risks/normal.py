"""The standard normal distribution function and its inverse."""

from fractions import Fraction
from math import erfc, sqrt
from statistics import NormalDist

STANDARD = NormalDist()
HALF = Fraction(1, 2)
ROOT_OF_2 = sqrt(2)


def normal_cdf(deviations: float) -> float:
    """Φ, the share below the mean plus this many standard deviations: 0.975 at 1.96; relative error 1e-13 in either tail."""
    # erfc is the tail itself; (1 + erf)/2 would round a share of 1e-20 to 0.
    return 0.5 * erfc(-deviations / ROOT_OF_2)


def deviations_at(share: Fraction) -> float:
    """The inverse of Φ: the number of standard deviations from the mean with this share below, 1.645 for 19/20.

    Raises ValueError unless 0 < share < 1.
    Source of the approximation: Wichura, AS 241 (1988), with a relative error of 1e-16.
    """
    if not 0 < share < 1:
        raise ValueError(f"A share of {share} lies at no number of standard deviations. Give one between 0 and 1.")
    # Above one half the other tail is converted, whose share a float has precisely: 1 − 1e-12 is off by 1e-4 of what it leaves.
    return -STANDARD.inv_cdf(float(1 - share)) if share > HALF else STANDARD.inv_cdf(float(share))
