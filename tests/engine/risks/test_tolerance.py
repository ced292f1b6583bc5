"""Tolerance factors as numerals."""

from decimal import Decimal, localcontext
from fractions import Fraction

import pytest

from service.engine.risks import tolerance
from service.engine.risks.high_precision import decimal_noncentral_t_cdf, decimal_normal_quantile
from service.engine.risks.tolerance import NormalSample, mean_factor, tolerance_factor

SHARE = Fraction(95, 100)


def test_a_factor_is_a_numeral_of_four_decimals() -> None:
    """Anyone can compute it, compare the numeral, and repeat the decision. 2.911 is printed everywhere (MEM)."""
    assert Fraction("2.9110") == tolerance_factor(10, SHARE, SHARE)
    # z(0.95) = 1.644854: 1.644854·(1 + 1/√10) = 2.165002.
    assert Fraction("2.1650") == tolerance_factor(10, SHARE, SHARE, sigma_is_known=True)
    assert Fraction("1.6449") * 2 - Fraction("0.0001") == tolerance_factor(1, SHARE, SHARE, sigma_is_known=True)


def test_half_of_the_content_with_half_of_the_confidence_is_the_mean_itself() -> None:
    """As often above as below, so no standard deviation is asked for; and the signs turn round with the shares."""
    half = Fraction(1, 2)

    assert 0 == tolerance_factor(5, half, half)
    assert 0 == tolerance_factor(5, half, half, sigma_is_known=True)
    assert -mean_factor(5, SHARE) == mean_factor(5, 1 - SHARE)


def test_60_digits_give_the_same_numeral_as_a_float_does(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where a float is in doubt, 60 digits decide; made to doubt always, it answers the same."""
    by_float = [tolerance_factor(sample, SHARE, SHARE) for sample in (2, 10, 300)]
    tolerance_factor.cache_clear()
    monkeypatch.setattr(tolerance, "ABSOLUTE_DOUBT", 2.0)

    assert by_float == [tolerance_factor(sample, SHARE, SHARE) for sample in (2, 10, 300)]


def test_a_share_nearer_than_a_float_can_tell_is_decided_right() -> None:
    """The very share that 40 digits find at a bound: one part in 1e30 less or more changes the answer."""
    law, bound = NormalSample(4, SHARE), Fraction(5)
    with localcontext(prec=60):
        noncentrality = 2 * decimal_normal_quantile(SHARE)
    exactly = Fraction(decimal_noncentral_t_cdf(Decimal(10), 3, noncentrality))

    assert law.is_at_most(bound, exactly + Fraction(1, 10**30))
    assert not law.is_at_most(bound, exactly - Fraction(1, 10**30))


@pytest.mark.parametrize(("sample", "known"), [(1, False), (0, True)])
def test_too_few_readings_have_no_factor(sample: int, known: bool) -> None:  # noqa: FBT001  a column of the table
    """One reading has no standard deviation."""
    with pytest.raises(ValueError, match="no tolerance factor"):
        tolerance_factor(sample, SHARE, SHARE, sigma_is_known=known)
