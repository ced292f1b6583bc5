"""Noncentral t."""

from fractions import Fraction
from math import sqrt

import pytest
from scipy import special, stats

from service.engine.risks.noncentral_t import NoncentralT
from service.engine.risks.normal import normal_cdf

DEGREES = (1, 2, 4, 9, 42, 199, 1999, 99_999)
DEVIATIONS = (0.0, 1.2816, 2.3263, 3.719)
SHARES = ("0.001", "0.05", "0.5", "0.9", "0.999")


@pytest.mark.parametrize("degrees", DEGREES)
@pytest.mark.parametrize("deviations", DEVIATIONS)
def test_quantiles_agree_with_an_independent_law(degrees: int, deviations: float) -> None:
    """The factor of a plan by variables comes from here. Source: scipy.stats.nct, at the t that we find."""
    noncentrality = deviations * sqrt(degrees + 1)
    law = NoncentralT(degrees, noncentrality)

    for share in SHARES:
        found = float(stats.nct.cdf(law.quantile(Fraction(share)), degrees, noncentrality))
        assert float(share) == pytest.approx(found, abs=1e-11)


@pytest.mark.parametrize("degrees", DEGREES)
def test_without_noncentrality_it_is_student_s_t(degrees: int) -> None:
    """Source: scipy.special.stdtr, by the incomplete beta function, another way altogether."""
    law = NoncentralT(degrees, 0.0)

    for bound in (-30.0, -2.0, -0.5, 0.0, 1.0, 12.7, 400.0):
        assert float(special.stdtr(degrees, bound)) == pytest.approx(law.at_most(bound), abs=1e-13)
        assert float(special.stdtr(degrees, -bound)) == pytest.approx(law.at_least(bound), abs=1e-13)


def test_at_zero_it_is_the_normal_law() -> None:
    """(Z + δ)/W is at most 0 where Z is at most -δ, whatever W: P = Φ(-δ)."""
    for noncentrality in (-3.0, 0.25, 2.0, 7.5):
        assert normal_cdf(-noncentrality) == pytest.approx(NoncentralT(3, noncentrality).at_most(0.0), rel=1e-13)


def test_far_tails_keep_their_size() -> None:
    """A share of 1 − 1e-12 is told by the 1e-12 that are left. Two degrees of freedom: t² = 2(1−2q)²/(1−(1−2q)²)."""
    little = Fraction("1e-12")
    exactly = sqrt((1 - 2 * little) ** 2 / (2 * little * (1 - little)))

    assert exactly == pytest.approx(NoncentralT(2, 0.0).quantile(1 - little), rel=1e-7)
    assert -exactly == pytest.approx(NoncentralT(2, 0.0).quantile(little), rel=1e-7)
