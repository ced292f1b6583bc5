"""Three laws of counting."""

from fractions import Fraction

import pytest
from scipy import stats

from service.engine.risks.counting import (
    CountDistribution,
    binomial,
    exact_binomial_at_most,
    exact_hypergeometric_at_most,
    hypergeometric,
    poisson,
)

SAMPLES = (1, 2, 13, 80, 500, 2000, 100_000)
SHARES = ("0.0001", "0.01", "0.065", "0.5", "0.97")
LOTS = ((500, 2, 80), (20, 10, 20), (50, 48, 13), (1200, 30, 80), (1_000_000, 25_000, 100_000), (100_000, 1, 5), (7, 0, 3))


def counts_around(chances: CountDistribution) -> list[int]:
    """Counts from the first to the last that matters, and beyond both."""
    last = chances.first + len(chances.weights)
    return sorted({max(0, chances.first - 1), last + 1, *range(chances.first, last, 1 + len(chances.weights) // 40)})


def test_a_sample_of_two_is_worked_by_hand() -> None:
    """(9/10)², 2·9/100, 1/100; and of 4 packages with 2 nonconforming, 1 of 6 pairs is good, 4 are mixed."""
    by_process, by_lot = binomial(2, Fraction(1, 10)), hypergeometric(2, 2, 4)

    assert [0.81, 0.18, 0.01] == pytest.approx([by_process.probability_of(count) for count in range(3)], rel=1e-15)
    assert [1 / 6, 5 / 6, 1] == pytest.approx([by_lot.at_most(count) for count in range(3)], rel=1e-15)


@pytest.mark.parametrize("sample", SAMPLES)
@pytest.mark.parametrize("share", SHARES)
def test_the_binomial_law_agrees_with_an_independent_one(sample: int, share: str) -> None:
    """A plan's risk is a figure that buyers and sellers sign. Source: scipy.stats.binom."""
    chances, other = binomial(sample, Fraction(share)), stats.binom(sample, float(share))

    for count in counts_around(chances):
        assert float(other.cdf(count)) == pytest.approx(chances.at_most(count), abs=1e-11)
        assert float(other.pmf(count)) == pytest.approx(chances.probability_of(count), abs=1e-11)


@pytest.mark.parametrize("mean", ["0.001", "0.5", "1", "7.25", "100", "2500", "100000"])
def test_the_poisson_law_agrees_with_an_independent_one(mean: str) -> None:
    """Faults of which one package may have several are counted by it. Source: scipy.stats.poisson."""
    chances, other = poisson(Fraction(mean)), stats.poisson(float(mean))

    for count in counts_around(chances):
        assert float(other.cdf(count)) == pytest.approx(chances.at_most(count), abs=1e-11)


@pytest.mark.parametrize(("lot", "nonconforming", "sample"), LOTS)
def test_the_hypergeometric_law_agrees_with_an_independent_one(lot: int, nonconforming: int, sample: int) -> None:
    """A finite lot runs out. Source: scipy.stats.hypergeom, whose own error for a million packages is about 1e-10."""
    chances, other = hypergeometric(sample, nonconforming, lot), stats.hypergeom(lot, nonconforming, sample)

    for count in counts_around(chances):
        assert float(other.cdf(count)) == pytest.approx(chances.at_most(count), abs=1e-10)


@pytest.mark.parametrize("share", [Fraction(0), Fraction(1)])
def test_a_process_that_is_all_good_or_all_bad_leaves_nothing_to_chance(share: Fraction) -> None:
    """The ends of a curve are on it."""
    assert 1.0 == binomial(5, share).probability_of(5 * int(share))
    assert float(share == 0) == binomial(5, share).at_most(4)
    assert Fraction(share == 0) == exact_binomial_at_most(4, 5, share)
    assert 1.0 == poisson(Fraction(0)).at_most(0)


def test_the_exact_laws_are_the_fractions_themselves() -> None:
    """1 − 1/8 for three coins; 1 − 1/6 for the pairs of four. So a risk that is met exactly is met."""
    assert Fraction(7, 8) == exact_binomial_at_most(2, 3, Fraction(1, 2))
    assert Fraction(19, 20) == exact_binomial_at_most(0, 1, Fraction(5, 100))
    assert Fraction(5, 6) == exact_hypergeometric_at_most(1, 2, 2, 4)


@pytest.mark.parametrize(("sample", "share", "count"), [(80, "0.01", 1), (2000, "0.0065", 14), (315, "0.97", 300)])
def test_floats_are_as_near_to_the_exact_law_as_is_promised(sample: int, share: str, count: int) -> None:
    """Within 1e-12, so that only what is nearer to a risk than that needs the exact law."""
    exactly = exact_binomial_at_most(count, sample, Fraction(share))

    assert float(exactly) == pytest.approx(binomial(sample, Fraction(share)).at_most(count), abs=1e-12)


@pytest.mark.parametrize(("lot", "nonconforming", "sample"), [(500, 2, 80), (1200, 30, 80), (50, 48, 13)])
def test_floats_are_as_near_to_the_exact_law_of_a_lot(lot: int, nonconforming: int, sample: int) -> None:
    """The same for a finite lot."""
    chances = hypergeometric(sample, nonconforming, lot)

    for count in range(min(sample, nonconforming) + 1):
        exactly = exact_hypergeometric_at_most(count, sample, nonconforming, lot)
        assert float(exactly) == pytest.approx(chances.at_most(count), abs=1e-13)
