"""The normal law: the share of readings below so many standard deviations, and the reverse."""

from fractions import Fraction
from math import erfc, sqrt
from statistics import NormalDist

STANDARD = NormalDist()
HALF = Fraction(1, 2)
ROOT_OF_2 = sqrt(2)


def share_below(deviations: float) -> float:
    """The share below the mean plus so many standard deviations: 0.975 at 1.96; within 1e-13 of itself in either tail."""
    return 0.5 * erfc(-deviations / ROOT_OF_2)


def deviations_at(share: Fraction) -> float:
    """So many standard deviations from the mean that this share is below: 1.645 at 19/20.

    Raises ValueError unless 0 < share < 1.
    Above one half it is read from the other side, where the share that is left is told exactly: 1 − 1e-12 as a float is off
    by 1e-4 of what it leaves. Source of the approximation: Wichura, AS 241 (1988), with a relative error of 1e-16.
    """
    if not 0 < share < 1:
        raise ValueError(f"A share of {share} lies at no number of standard deviations. Give one between 0 and 1.")
    return -STANDARD.inv_cdf(float(1 - share)) if share > HALF else STANDARD.inv_cdf(float(share))
