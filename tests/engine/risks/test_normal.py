"""The normal law."""

from fractions import Fraction

import pytest
from scipy import special

from service.engine.risks.normal import deviations_at, normal_cdf


@pytest.mark.parametrize("deviations", [-37.0, -8.0, -1.96, -0.1, 0.0, 1e-9, 1.0, 2.5, 8.0, 40.0])
def test_the_share_below_agrees_with_an_independent_one(deviations: float) -> None:
    """In the far tail too, by its own size. Source: scipy.special.ndtr."""
    assert float(special.ndtr(deviations)) == pytest.approx(normal_cdf(deviations), rel=1e-13)


@pytest.mark.parametrize("share", ["1e-12", "0.001", "0.05", "0.5", "0.9", "0.975", "0.999999"])
def test_deviations_agree_with_an_independent_source(share: str) -> None:
    """Source: scipy.special.ndtri."""
    assert float(special.ndtri(float(share))) == pytest.approx(deviations_at(Fraction(share)), rel=1e-10, abs=1e-15)


def test_both_ends_are_told_equally_well() -> None:
    """A share of 1 − 1e-12 is as far above the mean as 1e-12 is below, to the last digit."""
    little = Fraction("1e-12")

    assert deviations_at(1 - little) == -deviations_at(little)


@pytest.mark.parametrize("share", [Fraction(0), Fraction(1), Fraction(-1, 2), Fraction(3, 2)])
def test_a_share_that_lies_nowhere_is_refused(share: Fraction) -> None:
    """No number of standard deviations has all readings below it."""
    with pytest.raises(ValueError, match="Give one between 0 and 1"):
        deviations_at(share)
