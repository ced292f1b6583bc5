"""Capability with its intervals: figures by hand, other implementations, and how often the intervals hold the true index."""

from fractions import Fraction
from math import hypot, sqrt
from random import Random
from statistics import fmean, variance

import pytest
from msgspec import UNSET, UnsetType
from scipy import stats

from service.engine.trends import Point, Trend, trend_of
from service.engine.trends.capability import Capability, Interval, Limits, capability, performance
from service.engine.trends.chances import deviation_estimate, mean_half_width, variance_parts
from service.engine.trends.chi_square import chi_square_at
from service.engine.trends.spreads import Group, Pooled, pooled
from tests.support.trends import point, points_of

ELEVEN = point("A", Fraction(10), 11, Fraction(1))
BOTH = Limits(Fraction(4), Fraction(13))


def of(found: Capability | UnsetType) -> Capability:
    """The capability, which there is."""
    assert not isinstance(found, UnsetType)
    return found


def ends(found: Interval | UnsetType) -> tuple[float, float]:
    """Of an interval, which there is."""
    assert not isinstance(found, UnsetType)
    return found.lower, found.upper


def of_eleven(limits: Limits) -> Trend:
    """A lot of 11 readings with the mean 10 and the standard deviation 1."""
    return trend_of("mass", "g", [ELEVEN], limits)


def test_capability_by_hand() -> None:
    """Mean 10, s 1, limits 4 and 13: (13 − 4)/6 = 1.5, and the upper limit is 3 away, which is 1 time 3s."""
    found = of(of_eleven(BOTH).capability)

    assert (1.5, 1) == (found.spread, found.nearest)


def test_intervals_of_one_lot_agree_with_another_implementation() -> None:
    """Cp by chi-square; Cpk by that and by Student's t of the mean, put together; n 11, ν 10. The quantiles are scipy's."""
    found = of(of_eleven(BOTH).capability)
    spread = [sqrt(stats.chi2.ppf(share, 10) / 10) for share in (0.025, 0.975)]
    of_mean = stats.t.ppf(0.975, 10) / sqrt(11) / 3
    nearest = [1 - hypot(of_mean, 1 - spread[0]), 1 + hypot(of_mean, spread[1] - 1)]

    assert pytest.approx([1.5 * each for each in spread], rel=1e-5) == list(ends(found.spread_between))
    assert pytest.approx(nearest, rel=1e-5) == list(ends(found.nearest_between))


def test_intervals_of_two_lots_by_hand() -> None:
    """Readings 1, 3 and 5, 7 between −2 and 10, with printed tables of chi-square and of t.

    Means 2 and 6: M = 8 with 1 degree of freedom; W = 2 with 2, half of which counts: σ² + τ² is about 9.
    Chi-square 5.0239 and 0.00098207 for 1, 7.3778 and 0.050636 for 2 (0.975 and 0.025): G = 0.80095 and 0.72892, H = 1017.26
    and 38.498. Down √((0.80095 · 8)² + 0.72892²) = 6.44893, up √((1017.26 · 8)² + 38.498²) = 8138.17: between 2.55107 and
    8147.17, σ between 1.59721 and 90.2617. Limits 12 apart: Pp between 0.0221578 and 1.25219.
    The mean, 4, is 6 from either limit, 2/3 by 3σ = 9; its variance is 8/2 = 4, with t = 12.7062: 25.4124, or 2.82360 by 9.
    Ppk by σ alone between 0.0221578 and 1.25219, so 0.644509 down and 0.585519 up: 2/3 − 2.89622 and 2/3 + 2.88367.
    """
    lots = points_of([[Fraction(1), Fraction(3)], [Fraction(5), Fraction(7)]])
    found = of(trend_of("mass", "g", lots, Limits(Fraction(-2), Fraction(10))).performance)

    assert pytest.approx((0.0221578, 1.25219), rel=5e-5) == ends(found.spread_between)
    assert pytest.approx((-2.22955, 3.55034), rel=5e-5) == ends(found.nearest_between)
    assert isinstance(found.assumes, str)
    assert "how much lots differ is counted in" in found.assumes


def test_the_mean_of_lots_of_several_sizes_by_hand() -> None:
    """Lots of 1 and 3 with means 0 and 4, W = 6: M = 8, m = 2/3, τ² = 8 − 4 = 4, Σn²/N² = 10/16, σ²/N = 1.5: variance 4."""
    lots = pooled([Group(1, Fraction(0), Fraction(0)), Group(3, Fraction(4), Fraction(6))])

    assert pytest.approx(2 * 12.7062, rel=1e-5) == mean_half_width(lots)
    # M + (1 − m)·W = 8 + 2
    assert pytest.approx(sqrt(10), rel=1e-12) == deviation_estimate(variance_parts(lots)).value


def test_lots_that_differ_less_than_chance_would_have_it_do_not_narrow_the_mean() -> None:
    """Two lots of 2 with the same mean and W = 2: the variance of the mean is 2/4, not 0."""
    lots = pooled([Group(2, Fraction(5), Fraction(2))] * 2)

    assert pytest.approx(12.7062 * sqrt(0.5), rel=1e-5) == mean_half_width(lots)


def test_one_lot_says_that_nothing_is_known_of_others() -> None:
    """Its interval would else be read as that of the process."""
    assumes = of(of_eleven(BOTH).performance).assumes

    assert isinstance(assumes, str)
    assert "There is one lot, so how much lots differ is not counted in." in assumes


TRIALS = 2000
AWAY = 3 * sqrt(0.95 * 0.05 / TRIALS)
"""Three standard deviations of a share of 0.95 in so many trials, 0.0146: a right interval is outside once in 370 times."""
UPPER = Limits(upper=Fraction(4))
UNEVEN = Limits(Fraction(-40), Fraction(4))
"""44 apart, the upper one always the nearer: of two that are equally far, the nearer one is nearer than it truly is."""


def drawn(by: Random, lots: int, readings: int, apart: float) -> Pooled:
    """Lots about means about 0, readings about these by a standard deviation of 1."""
    groups = []
    for _ in range(lots):
        mean = by.gauss(0, apart)
        values = [by.gauss(mean, 1) for _ in range(readings)]
        groups.append(Group(readings, Fraction(fmean(values)), Fraction(variance(values))))
    return pooled(groups)


def holds(found: Interval | UnsetType, truth: float) -> bool:
    """Whether the true index is within."""
    lower, upper = ends(found)
    return lower <= truth <= upper


def held(lots: int, readings: int, apart: float) -> list[float]:
    """In which share of trials the intervals of Cp, Cpk, Pp and Ppk hold the true index."""
    by, hits = Random(1946), [0, 0, 0, 0]
    for _ in range(TRIALS):
        together = drawn(by, lots, readings, apart)
        indices = (capability(together, UNEVEN), performance(together, UNEVEN))
        for place, found, spread in zip((0, 2), indices, (1, hypot(1, apart)), strict=True):
            assert found is not None
            hits[place] += holds(found.spread_between, 44 / (6 * spread))
            hits[place + 1] += holds(found.nearest_between, 4 / (3 * spread))
    return [each / TRIALS for each in hits]


@pytest.mark.parametrize("apart", [0, 1], ids=["lots do not differ", "lots differ as much as readings do"])
def test_an_interval_holds_the_true_index_in_95_of_100(apart: float) -> None:
    """Twenty lots of five; intervals that take all readings for one lot's hold Pp in some 85 of 100 in the second case."""
    shares = held(20, 5, apart)

    assert [pytest.approx(0.95, abs=AWAY)] * 4 == shares


def test_few_lots_give_wide_intervals_and_not_wrong_ones() -> None:
    """Four lots of five, twice as far apart as their readings: at least what is promised."""
    assert min(held(4, 5, 2)) > 0.95 - AWAY


@pytest.mark.parametrize("freedom", [1, 2, 3, 10, 49, 500, 9_999, 10_000, 1_000_000])
@pytest.mark.parametrize("share", [Fraction(1, 40), Fraction(1, 2), Fraction(39, 40)])
def test_the_chi_square_law_agrees_with_another_implementation(freedom: int, share: Fraction) -> None:
    """Figures are given to six digits."""
    assert pytest.approx(stats.chi2.ppf(float(share), freedom), rel=1e-7) == chi_square_at(share, freedom)


def test_one_limit_has_no_width_and_a_mean_outside_is_negative() -> None:
    """Mean 10, s 1 above an upper limit of 4: −6/3; the interval lies about it."""
    found = of(of_eleven(UPPER).performance)
    lower, upper = ends(found.nearest_between)

    assert (UNSET, UNSET, -2) == (found.spread, found.spread_between, found.nearest)
    assert lower < -2 < upper < 0


@pytest.mark.parametrize(
    ("points", "limits"),
    [
        ([ELEVEN], Limits()),
        ([point("A", Fraction(10), 11, Fraction(0))], Limits(lower=Fraction(4))),
        ([point("A", Fraction(10))], Limits(lower=Fraction(4))),
        ([], Limits()),
    ],
    ids=["no limit", "no spread", "one reading", "no lot"],
)
def test_nothing_is_said_where_nothing_can_be(points: list[Point], limits: Limits) -> None:
    """And there are no control limits of one lot."""
    found = trend_of("mass", "g", points, limits)

    assert (UNSET, UNSET, UNSET, []) == (found.capability, found.performance, found.control, list(found.signals))


def test_lots_of_one_reading_have_a_performance_alone() -> None:
    """Means 1, 2 and 4, upper limit 10: s² = 7/3, and all that is known of the spread is how lots differ."""
    points = [point(f"L-{mean}", Fraction(mean)) for mean in (1, 2, 4)]
    found = trend_of("mass", "g", points, Limits(Fraction(0), Fraction(10)))
    spread = [10 / (6 * sqrt(Fraction(14, 3) / stats.chi2.ppf(share, 2))) for share in (0.025, 0.975)]

    assert UNSET is found.capability
    assert pytest.approx(spread, rel=1e-5) == list(ends(of(found.performance).spread_between))
