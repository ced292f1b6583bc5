"""Spreads beside the most that they may be; values worked by hand."""

import pytest

from tests.support.grades import EFFICIENCY, ELONGATION, FORCE, KNOT_FORCE, Document, grade, sampled, series, spread
from tests.support.judging import found


def test_a_standard_deviation_divides_by_one_less_than_the_readings() -> None:
    """10, 20, 30: deviations −10, 0, 10; 200 / 2 = 100, whose root is 10. Divided by 3 it would be 8.16."""
    finding = found(grade(spread("standard_deviation", 9)), series(10, 20, 30))

    assert {
        "requirement": "r0",
        "kind": "spread",
        "characteristic": "breaking_force",
        "binding": True,
        "outcome": "fail",
        "measured": {"statistic": "standard_deviation", "value": 10, "unit": "N", "readings": 3, "packages": 3},
        "limits": {"at_most": 9, "unit": "N"},
        "margin": -1,
        "reasons": [
            {
                "code": "above-at-most",
                "text": "The standard deviation of breaking force, 10 N, is 1 N above the most allowed, 9 N.",
                "with": {"value": 10, "limit": 9, "unit": "N", "by": 1},
                "rule": "/requirements/0/at_most",
                "at": ["/series/0"],
                "at_total": 1,
            }
        ],
    } == finding


def test_a_spread_on_its_limit_passes() -> None:
    """The most that may be may be."""
    finding = found(grade(spread("standard_deviation", 10)), series(10, 20, 30))

    assert ("pass", 0, "within") == (finding["outcome"], finding["margin"], finding["reasons"][0]["code"])
    assert (
        "The standard deviation of breaking force, 10 N, is exactly the most allowed, 10 N." == (finding["reasons"][0]["text"])
    )


@pytest.mark.parametrize(
    ("at_most", "outcome", "margin"),
    [(1.4142135623730951, "pass", 5.119831e-17), (1.414213562373095, "fail", -4.880169e-17)],
)
def test_an_irrational_spread_is_compared_without_rounding(at_most: float, outcome: str, margin: float) -> None:
    """1 and 3 have s = √2 = 1.41421356237309504880…, which lies between two numerals that differ by one in the last place.

    1.4142135623730951 − √2 = 0.00000000000000005119831… and 1.414213562373095 − √2 = −0.00000000000000004880169…
    """
    finding = found(grade(spread("standard_deviation", at_most)), series(1, 3))

    assert outcome == finding["outcome"]
    assert abs(finding["margin"] - margin) < 1e-23


def test_a_range_is_the_highest_less_the_lowest() -> None:
    """1420 − 1399.5 = 20.5."""
    finding = found(grade(spread("range", 25)), series(1400, 1420, 1399.5))

    assert ("pass", 20.5, 4.5) == (finding["outcome"], finding["measured"]["value"], finding["margin"])
    assert "The range of breaking force, 20.5 N, is 4.5 N below the most allowed, 25 N." == finding["reasons"][0]["text"]


def test_a_coefficient_of_variation_is_in_percent() -> None:
    """90, 100, 110: s = 10 of a mean of 100 is 10 %, 2 percentage points below 12 %."""
    finding = found(grade(spread("coefficient_of_variation", 12)), series(90, 100, 110))

    assert ("pass", 10, 2) == (finding["outcome"], finding["measured"]["value"], finding["margin"])
    assert ("%", {"at_most": 12, "unit": "%"}) == (finding["measured"]["unit"], finding["limits"])
    assert (
        "The coefficient of variation of breaking force, 10 %, is 2 percentage points below the most allowed, 12 %."
    ) == finding["reasons"][0]["text"]


@pytest.mark.parametrize("readings", [(0, 0), (-5, 5), (-5, -6)])
def test_a_coefficient_at_a_mean_of_zero_or_less_is_undecided(readings: tuple[float, ...]) -> None:
    """A share of nothing, or of less, says nothing about evenness."""
    finding = found(grade(spread("coefficient_of_variation", 12), of=ELONGATION), series(*readings, of=ELONGATION))

    assert "undecided" == finding["outcome"]
    assert {
        "code": "mean-not-positive",
        "text": (
            "The mean elongation at break is not above 0, so it has no coefficient of variation. "
            "Limit another spread in the grade."
        ),
        "with": {"mean": sum(readings) / 2, "unit": "%"},
        "rule": "/requirements/0/statistic",
        "at": ["/series/0"],
        "at_total": 1,
    } == finding["reasons"][0]


def test_a_spread_over_packages_is_of_their_means() -> None:
    """b1: (1 + 3) / 2 = 2, b2: (5 + 7) / 2 = 6: a range of 4, though the readings range over 6."""
    finding = found(grade(spread("range", 5, over="packages")), series(1, 3, 5, 7, packages=["b1", "b1", "b2", "b2"]))

    assert ("pass", 4) == (finding["outcome"], finding["measured"]["value"])


@pytest.mark.parametrize(("ties", "value", "outcome"), [("even", 20, "pass"), ("away", 21, "fail")])
def test_a_range_is_rounded_as_the_grade_says(ties: str, value: float, outcome: str) -> None:
    """20.5 lies half-way between 20 and 21."""
    finding = found(grade(spread("range", 20, rounding={"step": 1, "ties": ties})), series(1400, 1420.5))

    assert (outcome, value, 20.5) == (finding["outcome"], finding["measured"]["value"], finding["measured"]["observed"])
    assert f"The range of breaking force, rounded to {value} N," in finding["reasons"][0]["text"]


def test_an_irrational_spread_is_rounded_too() -> None:
    """√2 is 1.4 to one decimal."""
    finding = found(grade(spread("standard_deviation", 1.4, rounding={"step": 0.1, "ties": "even"})), series(1, 3))

    assert ("pass", 1.4, 2**0.5) == (finding["outcome"], finding["measured"]["value"], finding["measured"]["observed"])


@pytest.mark.parametrize(
    ("readings", "packages", "missing"),
    [((), None, (2, 2)), ((1400,), None, (1, 1)), ((1400, 1410), ["b1", "b1"], None)],
)
def test_a_spread_without_a_sample_takes_two_readings(
    readings: tuple[float, ...], packages: list[str] | None, missing: tuple[int, int] | None
) -> None:
    """One reading has no spread; whether two come from one package or from two is all the same."""
    finding = found(grade(spread("range", 20)), series(*readings, packages=packages))

    assert ("undecided" if missing else "pass") == finding["outcome"]
    if missing:
        assert [{"characteristic": "breaking_force", "packages": missing[0], "readings": missing[1]}] == finding["missing"]


def test_a_spread_over_packages_takes_two_packages() -> None:
    """Two readings of one ball are one mean."""
    finding = found(grade(spread("range", 20, over="packages")), series(1400, 1410, packages=["b1", "b1"]))

    assert [{"characteristic": "breaking_force", "packages": 1, "readings": 1}] == finding["missing"]


EARLY = [
    (spread("range", 20), "fail"),
    (spread("range", 21), "undecided"),
    (spread("range", 20, over="packages"), "undecided"),
    (spread("standard_deviation", 1), "undecided"),
    (spread("coefficient_of_variation", 0.1), "undecided"),
    (spread("range", 20.5, rounding={"step": 1, "ties": "even"}), "fail"),
]


@pytest.mark.parametrize(("requirement", "outcome"), EARLY)
def test_only_a_range_over_readings_fails_early(requirement: Document, outcome: str) -> None:
    """A range only grows; a standard deviation, a coefficient and package means can still come down."""
    finding = found(grade(requirement, of=sampled(FORCE, 5)), series(1400, 1421, packages=["b1", "b2"]))

    assert outcome == finding["outcome"]


def test_a_spread_of_ratios_is_of_each_pair() -> None:
    """500/1000 and 600/1000 are 50 and 60 %: a range of 10 percentage points."""
    finding = found(
        grade(spread("range", 9), of=[EFFICIENCY, FORCE, KNOT_FORCE]), series(1000, 1000), series(500, 600, of=KNOT_FORCE)
    )

    assert ("fail", 10, -1) == (finding["outcome"], finding["measured"]["value"], finding["margin"])
    assert ["/series/0", "/series/1"] == finding["reasons"][0]["at"]
    assert (
        "The range of knot efficiency, 10 %, is 1 percentage point above the most allowed, 9 %."
        == finding["reasons"][0]["text"]
    )


def test_equal_readings_have_no_spread() -> None:
    """Nothing is exactly what may be where nothing may be."""
    for statistic in ("range", "standard_deviation", "coefficient_of_variation"):
        finding = found(grade(spread(statistic, 0)), series(0.1, 0.1, 0.1))

        assert ("pass", 0, "0.0") == (finding["outcome"], finding["measured"]["value"], str(finding["margin"]))
