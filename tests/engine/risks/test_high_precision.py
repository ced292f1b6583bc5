"""The normal and the noncentral t distribution to 40 digits."""

from decimal import Decimal
from fractions import Fraction

import pytest

from service.engine.risks.high_precision import decimal_noncentral_t_cdf, decimal_normal_cdf, decimal_normal_quantile
from service.engine.risks.noncentral_t import NoncentralT


def test_known_digits_come_out() -> None:
    """The share within one standard deviation and z(0.975) with many digits, as tables give them (MEM)."""
    assert abs(Decimal("0.682689492137085897170465091264") - (2 * decimal_normal_cdf(Decimal(1)) - 1)) < Decimal("1e-27")
    assert abs(Decimal("1.95996398454005423552") - decimal_normal_quantile(Fraction(975, 1000))) < Decimal("1e-20")
    assert 0 == decimal_normal_quantile(Fraction(1, 2))


@pytest.mark.parametrize("share", ["1e-9", "0.05", "0.9", "0.999999"])
def test_the_share_at_its_own_deviations_comes_back(share: str) -> None:
    """In both tails, as far as the 28 digits go that this test keeps."""
    found = decimal_normal_cdf(decimal_normal_quantile(Fraction(share)))

    assert abs(Decimal(share) - found) < Decimal("1e-26")


def test_student_s_t_with_one_and_two_degrees_is_exact() -> None:
    """P(T ≤ 1) is 3/4 for one degree of freedom, by arctan; (1 + 1/√3)/2 for two."""
    of_two = (1 + 1 / Decimal(3).sqrt()) / 2

    assert abs(Decimal("0.75") - decimal_noncentral_t_cdf(Decimal(1), 1, Decimal(0))) < Decimal("1e-38")
    assert abs(of_two - decimal_noncentral_t_cdf(Decimal(1), 2, Decimal(0))) < Decimal("1e-27")


@pytest.mark.parametrize(("bound", "degrees", "noncentrality"), [(5, 1, 2), (5, 9, 4), (60, 999, 55), (-1, 4, 1), (40, 2, 3)])
def test_floats_are_as_near_as_is_promised(bound: int, degrees: int, noncentrality: int) -> None:
    """Within 1e-12 of the law to 40 digits."""
    exactly = decimal_noncentral_t_cdf(Decimal(bound), degrees, Decimal(noncentrality))

    assert float(exactly) == pytest.approx(NoncentralT(degrees, noncentrality).at_most(bound), abs=1e-13)
