"""Operating characteristics, average outgoing quality, average sample numbers."""

from fractions import Fraction
from math import exp, sqrt

import pytest
from scipy import stats

from service.engine.sampling import AttributesPlan, Stage, VariablesPlan
from service.engine.sampling.curves import AttributesCurve, Law, VariablesCurve

SINGLE = AttributesPlan((Stage(80, 1, 2),))
DOUBLE = AttributesPlan((Stage(50, 2, 5), Stage(50, 6, 7)))
TINY = AttributesPlan((Stage(1, 0, 2), Stage(1, 1, 2)))
QUALITIES = ("0", "0.001", "0.01", "0.025", "0.1", "0.4", "1")


def by_hand(quality: float) -> float:
    """The double plan 50, 2/5, then 50, 6/7, summed over the first sample with scipy.stats.binom."""
    first, second = stats.binom(50, quality), stats.binom(50, quality)
    return float(first.cdf(2) + sum(first.pmf(found) * second.cdf(6 - found) for found in (3, 4)))


def test_a_small_double_plan_is_worked_by_hand() -> None:
    """One package, and a second where the first is nonconforming: at 1/2 accept 1/2 at once and 1/4 later, draw 1.5.

    Of a lot of 4, a quarter is drawn at first and a half in the end: AOQ = 1/2·(1/2·3/4 + 1/4·2/4) = 1/4. Of a lot of 4 with
    2 nonconforming, the second one is good twice in three: Pa = 1/2 + 1/2·2/3.
    """
    assert (0.75, 0.25, 1.5) == AttributesCurve(TINY, "binomial", 4).at(Fraction(1, 2))
    assert (0.75, 0.375, 1.5) == AttributesCurve(TINY, "binomial", None).at(Fraction(1, 2))
    assert 5 / 6 == pytest.approx(AttributesCurve(TINY, "hypergeometric", 4).at(Fraction(1, 2)).acceptance, rel=1e-15)


@pytest.mark.parametrize("quality", QUALITIES)
def test_a_single_plan_agrees_with_independent_laws(quality: str) -> None:
    """Source: scipy's binom, poisson and hypergeom."""
    share = float(quality)
    lots = {
        "binomial": float(stats.binom.cdf(1, 80, share)),
        "poisson": float(stats.poisson.cdf(1, 80 * share)),
        "hypergeometric": float(stats.hypergeom.cdf(1, 1000, round(1000 * share), 80)),
    }

    laws: tuple[Law, ...] = ("binomial", "poisson", "hypergeometric")
    for law in laws:
        point = AttributesCurve(SINGLE, law, 1000).at(Fraction(quality))
        assert lots[law] == pytest.approx(point.acceptance, abs=1e-12)
        assert share * lots[law] * 920 / 1000 == pytest.approx(point.average_outgoing_quality, abs=1e-12)
        assert 80 == pytest.approx(point.average_sample_number, rel=1e-15)


@pytest.mark.parametrize("quality", QUALITIES)
def test_a_double_plan_agrees_with_an_independent_sum(quality: str) -> None:
    """The second sample is drawn after 3 or 4 nonconforming ones in the first."""
    share, point = float(quality), AttributesCurve(DOUBLE, "binomial", None).at(Fraction(quality))
    goes_on = float(stats.binom.pmf(3, 50, share) + stats.binom.pmf(4, 50, share))

    assert by_hand(share) == pytest.approx(point.acceptance, abs=1e-12)
    assert 50 + 50 * goes_on == pytest.approx(point.average_sample_number, abs=1e-11)
    assert share * by_hand(share) == pytest.approx(point.average_outgoing_quality, abs=1e-12)


def test_the_gap_of_reduced_inspection_accepts() -> None:
    """MIL-STD-105E Table II-C, letter J, AQL 2.5: 32, 2/5 (reference A5): 3 and 4 accept this lot."""
    reduced = AttributesCurve(AttributesPlan((Stage(32, 2, 5),)), "binomial", None)

    assert float(stats.binom.cdf(4, 32, 0.1)) == pytest.approx(reduced.at(Fraction(1, 10)).acceptance, abs=1e-12)


def test_a_first_stage_that_cannot_accept_goes_on() -> None:
    """46 CFR 160.066-12 has such stages. Both samples of one package: at 1/2 accept with at most 1 of 2, 3/4; draw 2."""
    plan = AttributesPlan((Stage(1, None, 2), Stage(1, 1, 2)))

    assert (0.75, 0.375, 2.0) == AttributesCurve(plan, "binomial", None).at(Fraction(1, 2))


def test_the_points_of_a_curve_lie_on_it() -> None:
    """The quality accepted with 95 % and the one accepted with 10 %."""
    for curve in (AttributesCurve(DOUBLE, "binomial", None), AttributesCurve(DOUBLE, "poisson", None)):
        for probability in (0.95, 0.1):
            quality = curve.accepted_with_at_least(probability)
            assert quality is not None
            assert probability == pytest.approx(curve.at(Fraction(quality)).acceptance, abs=1e-12)


def test_a_plan_that_always_accepts_has_no_such_points() -> None:
    """At most 3 of 3 packages is no test at all."""
    for law in ("binomial", "hypergeometric"):
        curve = AttributesCurve(AttributesPlan((Stage(3, 3, 4),)), law, 10)
        assert curve.accepted_with_at_least(0.95) is None
        assert curve.accepted_with_at_most(0.1) is None


def test_accepting_without_nonconforming_ones_has_points_in_closed_form() -> None:
    """(1 − p)ⁿ = 0.95 and exp(-n·p) = 0.1."""
    strict = AttributesPlan((Stage(20, 0, 1),))
    by_process, by_rate = AttributesCurve(strict, "binomial", None), AttributesCurve(strict, "poisson", None)
    worst, rate = by_process.accepted_with_at_least(0.95), by_rate.accepted_with_at_most(0.1)

    assert 1 - 0.95 ** (1 / 20) == pytest.approx(worst, rel=1e-12)
    assert rate is not None
    assert 0.1 == pytest.approx(exp(-20 * rate), rel=1e-12)


def test_the_points_of_a_lot_are_whole_numbers_of_packages() -> None:
    """500 packages, 80 drawn, at most 1: 2 nonconforming are accepted with 0.9747 and 3 with 0.9317 (scipy.stats.hypergeom)."""
    curve = AttributesCurve(SINGLE, "hypergeometric", 500)
    consumers = next(held for held in range(500) if stats.hypergeom.cdf(1, 500, held, 80) <= 0.1)

    assert 2 / 500 == curve.accepted_with_at_least(0.95)
    assert consumers / 500 == curve.accepted_with_at_most(0.1)


def test_the_law_of_a_lot_needs_its_size() -> None:
    """It is not guessed."""
    with pytest.raises(ValueError, match="not told"):
        AttributesCurve(SINGLE, "hypergeometric", None).at(Fraction(1, 100))


@pytest.mark.parametrize(("packages", "k"), [(3, "1.12"), (5, "1.53"), (50, "1.93"), (200, "2.04"), (2000, "2.1")])
def test_a_plan_by_variables_agrees_with_an_independent_law(packages: int, k: str) -> None:
    """Source: scipy.stats.nct for sigma unknown, scipy.stats.norm for sigma known."""
    plan, root = VariablesPlan(packages, Fraction(k)), sqrt(packages)
    for quality in ("0.0001", "0.01", "0.065", "0.5", "0.9"):
        inside = float(stats.norm.isf(float(quality)))
        unknown = VariablesCurve(plan, sigma_is_known=False, lot=4000).at(Fraction(quality))
        known = VariablesCurve(plan, sigma_is_known=True, lot=None).at(Fraction(quality))
        expected = float(stats.nct.sf(float(k) * root, packages - 1, inside * root))

        assert expected == pytest.approx(unknown.acceptance, abs=1e-11)
        assert float(quality) * expected * (4000 - packages) / 4000 == pytest.approx(
            unknown.average_outgoing_quality, abs=1e-11
        )
        assert packages == unknown.average_sample_number
        assert float(stats.norm.cdf(root * (inside - float(k)))) == pytest.approx(known.acceptance, abs=1e-11)


@pytest.mark.parametrize("sigma_is_known", [True, False])
def test_a_plan_by_variables_has_its_ends_and_its_points(sigma_is_known: bool) -> None:  # noqa: FBT001  a column of the table
    """A lot without any outside is accepted, one all outside is not."""
    curve = VariablesCurve(VariablesPlan(20, Fraction("1.82")), sigma_is_known, None)
    quality = curve.accepted_with_at_most(0.1)

    assert (1.0, 0.0) == (curve.at(Fraction(0)).acceptance, curve.at(Fraction(1)).acceptance)
    assert quality is not None
    assert 0.1 == pytest.approx(curve.at(Fraction(quality)).acceptance, abs=1e-12)
