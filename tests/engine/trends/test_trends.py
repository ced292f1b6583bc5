"""Mean, spread and control limits over lots, held to figures by hand and to plain fractions."""

import statistics
import subprocess
import sys
from decimal import Decimal, localcontext
from fractions import Fraction
from math import pi, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec import UNSET, UnsetType

from service.engine.trends import Trend, trend_of
from service.engine.trends.capability import Limits
from service.engine.trends.control import D2, ControlLimits
from service.engine.trends.spreads import Deviation
from tests.support.trends import point, points_of

FLOW = (49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1)
"""Ten readings of a flow in a published example: mean 50.81, mean moving range 1.8778, limits 45.8159 and 55.8041.

Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 (from memory; mean and moving range by hand: 16.9/9).
"""


def of_means(*means: str | float) -> Trend:
    """Lots of one reading each."""
    points = [point(f"L-{number}", Fraction(str(mean))) for number, mean in enumerate(means, 1)]
    return trend_of("breaking_force", "N", points)


def control(trend: Trend) -> ControlLimits:
    """Its control limits, which it has."""
    assert not isinstance(trend.control, UnsetType)
    return trend.control


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
    lots = [point("A", Fraction("0.1")), point("B", Fraction("0.2"), 3, Fraction("0.0001"))]

    assert 0.175 == trend_of("mass", "g", lots).mean


def test_spreads_within_and_overall_by_hand() -> None:
    """Readings 1, 3 and 5, 7: variance 2 in each lot; overall mean 4, squares 9 + 1 + 1 + 9 = 20 by 3."""
    found = trend_of("mass", "g", points_of([[Fraction(1), Fraction(3)], [Fraction(5), Fraction(7)]]))

    assert Deviation(standard_deviation=sqrt(2), degrees_of_freedom=2) == found.within
    assert Deviation(standard_deviation=sqrt(Fraction(20, 3)), degrees_of_freedom=3) == found.overall


def exactly_of(lots: list[list[Fraction]]) -> tuple[float, float, float]:
    """(mean, spread within, overall spread) in plain fractions of all readings, each rounded once: a double is 2⁻⁵³ fine."""
    every = [each for lot in lots for each in lot]
    squares = sum(((each - statistics.mean(lot)) ** 2 for lot in lots for each in lot), Fraction(0))
    inside = squares / (len(every) - len(lots))
    return float(statistics.mean(every)), rounded_root(inside), rounded_root(statistics.variance(every))


def rounded_root(square: Fraction) -> float:
    """The root to 60 digits, rounded once."""
    with localcontext(prec=60):
        return float((Decimal(square.numerator) / Decimal(square.denominator)).sqrt())


@given(
    st.lists(st.lists(st.fractions(10**6, 10**6 + 1, max_denominator=10**6), min_size=2, max_size=6), min_size=1, max_size=6)
)
def test_nothing_is_rounded_before_the_end(lots: list[list[Fraction]]) -> None:
    """Means near a million that are no doubles, one apart at most: rounded first, the tenth digit of a spread is wrong."""
    found = trend_of("mass", "g", points_of(lots))

    assert isinstance(found.within, Deviation)
    assert isinstance(found.overall, Deviation)
    assert exactly_of(lots) == (found.mean, found.within.standard_deviation, found.overall.standard_deviation)


def test_spreads_of_means_that_are_no_doubles_by_hand() -> None:
    """Means of 10^9 + 1/3 and 10^9 + 2/3 differ by 1/3, so overall s² = (1/6)² · 2 = 1/18; their doubles do not."""
    found = trend_of("mass", "g", [point("A", 10**9 + Fraction(1, 3)), point("B", 10**9 + Fraction(2, 3))])

    assert isinstance(found.overall, Deviation)
    assert 0.23570226039551584 == found.overall.standard_deviation  # 1/√18
    assert float(Fraction(1, 3)) == control(found).mean_moving_range


def test_lots_whose_means_have_no_short_common_denominator_are_told_to_the_last_digit() -> None:
    """A thousand readings that were turned round: sums of their squares would have 40,000 digits, and these are right."""
    lots = [[Fraction(10**6, 7000 + 3 * number)] for number in range(1000)]
    found = trend_of("runnage", "m/kg", points_of(lots))
    with localcontext(prec=60):
        values = [Decimal(10**6) / Decimal(7000 + 3 * number) for number in range(1000)]
        mean = sum(values, Decimal(0)) / 1000
        spread = (sum(((each - mean) ** 2 for each in values), Decimal(0)) / 999).sqrt()

    assert isinstance(found.overall, Deviation)
    assert (float(mean), float(spread)) == (found.mean, found.overall.standard_deviation)


def test_limits_are_reported_where_there_are_any() -> None:
    """A side that is open is left out."""
    assert UNSET is trend_of("mass", "g", []).limits
    told = trend_of("mass", "g", [], Limits(upper=Fraction(13))).limits

    assert not isinstance(told, UnsetType)
    assert (UNSET, 13) == (told.lower, told.upper)


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
            ("From lot L-9 to lot L-10 the mean moved by 10 N, which is above the limit of 6.534 N from one lot to the next."),
        ),
        (
            "run-on-one-side",
            [f"L-{number}" for number in range(1, 10)],
            "9 lots in a row, L-1 to L-9, are below the centre line: the process has shifted.",
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
