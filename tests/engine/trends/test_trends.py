"""Mean, spread, capability and control limits over lots, held to figures by hand and to other implementations."""

import statistics
import subprocess
import sys
from fractions import Fraction
from math import pi, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec import UNSET, UnsetType
from scipy import stats

from service.engine.trends import Bound, Capability, ControlLimits, Deviation, LotPoint, Trend, trend_of
from service.engine.trends.chi_square import chi_square_at
from service.engine.trends.control import D2

FLOW = (49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1)
"""Ten readings of a flow in a published example: mean 50.81, mean moving range 1.8778, limits 45.8159 and 55.8041.

Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 (from memory; mean and moving range by hand: 16.9/9).
"""


def point(number: int, mean: float, readings: int = 1, deviation: float | UnsetType = UNSET) -> LotPoint:
    """What is told of a lot."""
    at = f"2026-01-{number:02}T06:00:00Z"
    return LotPoint(lot=f"L-{number}", at=at, readings=readings, mean=mean, standard_deviation=deviation)


def of_means(*means: float, limits: Bound | UnsetType = UNSET) -> Trend:
    """Lots of one reading each."""
    return trend_of("breaking_force", "N", [point(number, mean) for number, mean in enumerate(means, 1)], limits)


def control(trend: Trend) -> ControlLimits:
    """Its control limits, which it has."""
    assert not isinstance(trend.control, UnsetType)
    return trend.control


def of(found: Capability | UnsetType) -> Capability:
    """The capability, which there is."""
    assert not isinstance(found, UnsetType)
    return found


def test_control_limits_agree_with_a_published_example() -> None:
    """The flow rates of the handbook."""
    limits = control(of_means(*FLOW))

    assert (50.81, 1.8778, 45.8159, 55.8041) == (
        limits.centre,
        round(limits.mean_moving_range, 4),
        round(limits.lower, 4),
        round(limits.upper, 4),
    )
    assert float(Fraction("3.267") * Fraction("16.9") / 9) == limits.moving_range_upper


def test_the_constant_for_ranges_of_two_is_that_of_the_normal_law() -> None:
    """The mean range of two standard normal values is 2/√π; the figure that everybody uses has three decimals of it."""
    assert round(2 / sqrt(pi), 3) == float(D2)


def test_a_mean_is_of_all_readings_and_exact() -> None:
    """One lot of 1 and one of 3: (0.1 + 3 · 0.2) / 4 = 0.175, which floats miss by a digit."""
    assert 0.175 == trend_of("mass", "g", [point(1, 0.1), point(2, 0.2, 3, 0.01)]).mean


def test_spreads_within_and_overall_by_hand() -> None:
    """Readings 1, 3 and 5, 7: variance 2 in each lot; overall mean 4, squares 9 + 1 + 1 + 9 = 20 by 3."""
    found = trend_of("mass", "g", [point(1, 2, 2, sqrt(2)), point(2, 6, 2, sqrt(2))])

    assert not isinstance(found.within, UnsetType)
    assert not isinstance(found.overall, UnsetType)
    assert (2, 3) == (found.within.degrees_of_freedom, found.overall.degrees_of_freedom)
    assert pytest.approx(sqrt(2), rel=1e-15) == found.within.standard_deviation
    assert pytest.approx(sqrt(20 / 3), rel=1e-15) == found.overall.standard_deviation


@given(st.lists(st.lists(st.integers(0, 500), min_size=2, max_size=8), min_size=1, max_size=6))
def test_the_overall_spread_is_that_of_all_readings(lots: list[list[int]]) -> None:
    """Put together from lots it is what the readings themselves give, but for how finely a lot's own figures are told."""
    points = [point(number, statistics.fmean(lot), len(lot), statistics.stdev(lot)) for number, lot in enumerate(lots, 1)]
    found = trend_of("mass", "g", points).overall

    assert isinstance(found, Deviation)
    assert (
        pytest.approx(statistics.stdev([each for lot in lots for each in lot]), rel=1e-12, abs=1e-9) == found.standard_deviation
    )


def test_capability_by_hand() -> None:
    """Mean 10, s 1, limits 4 and 13: (13 − 4)/6 = 1.5, and the upper limit is 3 away, which is 1 time 3s."""
    found = of(trend_of("mass", "g", [point(1, 10, 11, 1)], Bound(lower=4, upper=13)).capability)

    assert (1.5, 1) == (found.spread, found.nearest)


def test_intervals_agree_with_another_implementation() -> None:
    """Cp by chi-square, Cpk by Bissell's approximation, with the quantiles of scipy; n 11, ν 10."""
    found = of(trend_of("mass", "g", [point(1, 10, 11, 1)], Bound(lower=4, upper=13)).capability)
    cp = [1.5 * sqrt(stats.chi2.ppf(share, 10) / 10) for share in (0.025, 0.975)]
    half = stats.norm.ppf(0.975) * sqrt(1 / 99 + 1 / 20)

    assert not isinstance(found.spread_between, UnsetType)
    assert pytest.approx(cp, rel=1e-5) == [found.spread_between.lower, found.spread_between.upper]
    assert pytest.approx([1 - half, 1 + half], rel=1e-5) == [found.nearest_between.lower, found.nearest_between.upper]


@pytest.mark.parametrize("freedom", [1, 2, 3, 10, 49, 500, 9_999, 10_000, 1_000_000])
@pytest.mark.parametrize("share", [Fraction(1, 40), Fraction(1, 2), Fraction(39, 40)])
def test_the_chi_square_law_agrees_with_another_implementation(freedom: int, share: Fraction) -> None:
    """Figures are given to six digits."""
    assert pytest.approx(stats.chi2.ppf(float(share), freedom), rel=1e-7) == chi_square_at(share, freedom)


def test_one_limit_has_no_width_and_a_mean_outside_is_negative() -> None:
    """Mean 10, s 1 above an upper limit of 4: −6/3."""
    found = of(trend_of("mass", "g", [point(1, 10, 11, 1)], Bound(upper=4)).performance)

    assert (UNSET, UNSET, -2) == (found.spread, found.spread_between, found.nearest)


@pytest.mark.parametrize(
    ("points", "limits"),
    [([point(1, 10, 11, 1)], UNSET), ([point(1, 10, 11, 1)], Bound()), ([point(1, 10, 11, 0)], Bound(lower=4)), ([], UNSET)],
)
def test_nothing_is_said_where_nothing_can_be(points: list[LotPoint], limits: Bound | UnsetType) -> None:
    """No limit, no spread, no lot: no capability, and no control limits of one lot."""
    found = trend_of("mass", "g", points, limits)

    assert (UNSET, UNSET, UNSET, []) == (found.capability, found.performance, found.control, list(found.signals))


def test_lots_of_one_reading_have_an_overall_spread_alone() -> None:
    """Nothing is known of how readings differ within a lot."""
    found = of_means(1, 2, 4)

    assert (UNSET, 2) == (found.within, found.overall.degrees_of_freedom if found.overall else 0)


def test_a_point_beyond_its_limits_is_told() -> None:
    """By hand: mean 11.4; moving ranges eight times 1 and once 10, so 2 in the mean; 11.4 + 6/1.128 is 16.719149."""
    found = of_means(10, 11, 10, 11, 10, 11, 10, 11, 10, 20)

    assert [
        ("beyond-control-limit", ["L-10"], "The mean of lot L-10, 20 N, is above the control limit of 16.719149 N."),
        (
            "moving-range-beyond-limit",
            ["L-9", "L-10"],
            "From lot L-9 to lot L-10 the mean moved by 10 N, above the limit of 6.534 N for such a step.",
        ),
        (
            "run-on-one-side",
            [f"L-{number}" for number in range(1, 10)],
            "9 lots in a row, L-1 to L-9, are below the centre: the process has moved.",
        ),
    ] == [(signal.code, signal.lots, signal.text) for signal in found.signals]


@pytest.mark.parametrize(("means", "runs"), [((1,) * 8 + (2,) * 8, 2), ((1,) * 7 + (2,) * 7, 0), ((1, 1, 1, 1), 0)])
def test_eight_lots_on_one_side_are_told(means: tuple[float, ...], runs: int) -> None:
    """Seven are chance; a mean on the centre is on neither side."""
    assert runs == [signal.code for signal in of_means(*means).signals].count("run-on-one-side")


def test_a_mean_on_its_limit_is_within() -> None:
    """All alike: the limits are the mean itself."""
    assert [] == of_means(5, 5, 5).signals


def test_trends_load_no_library_of_arrays() -> None:
    """The service would start half a second later for a chart that few ask for."""
    asked = "import sys; import service.engine.trends; print([name for name in ('numpy', 'scipy') if name in sys.modules])"
    found = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True)

    assert "[]" == found.stdout.strip()
