"""The mean of a lot beside its limits; values worked by hand."""

import pytest

from tests.support.grades import (
    ELONGATION,
    FORCE,
    KNOT_FORCE,
    POOLED_EFFICIENCY,
    RUNNAGE,
    Document,
    grade,
    lot,
    mean,
    sampled,
    series,
)
from tests.support.judging import found, judged


def test_a_mean_below_its_lower_limit_fails_and_says_by_how_much() -> None:
    """(1380 + 1400 + 1397.2) / 3 = 1392.4, which is 7.6 N short."""
    finding = found(grade(mean(lower=1400, clause="3.2")), series(1380, 1400, 1397.2))

    assert {
        "requirement": "r0",
        "kind": "mean",
        "characteristic": "breaking_force",
        "binding": True,
        "outcome": "fail",
        "clause": "3.2",
        "measured": {"statistic": "mean", "value": 1392.4, "unit": "N", "readings": 3, "packages": 3},
        "limits": {"lower": 1400, "unit": "N"},
        "margin": -7.6,
        "reasons": [
            {
                "code": "below-lower",
                "text": "The mean breaking force, 1392.4 N, is 7.6 N below the lower limit of 1400 N.",
                "with": {"value": 1392.4, "limit": 1400, "unit": "N", "by": 7.6},
                "rule": "/requirements/0/limits/lower",
                "at": ["/series/0"],
                "at_total": 1,
            }
        ],
    } == finding


def test_a_mean_above_its_upper_limit_fails() -> None:
    """(130 + 137) / 2 = 133.5 m/kg is 1.5 above 132."""
    finding = found(grade(mean(lower=128, upper=132), of=RUNNAGE), series(130, 137, of=RUNNAGE))

    assert ("fail", -1.5) == (finding["outcome"], finding["margin"])
    assert "above-upper" == finding["reasons"][0]["code"]
    assert "/requirements/0/limits/upper" == finding["reasons"][0]["rule"]
    assert "The mean runnage, 133.5 m/kg, is 1.5 m/kg above the upper limit of 132 m/kg." == finding["reasons"][0]["text"]


@pytest.mark.parametrize(("limits", "on"), [({"lower": 1400}, "lower"), ({"upper": 1400}, "upper")])
def test_a_mean_on_the_limit_passes(limits: Document, on: str) -> None:
    """Limits are inclusive: exactly 1400 N is neither too little nor too much."""
    finding = found(grade(mean(limits=limits)), series(1399, 1401))

    assert ("pass", 0) == (finding["outcome"], finding["margin"])
    assert f"The mean breaking force, 1400 N, is exactly on the {on} limit of 1400 N." == finding["reasons"][0]["text"]


def test_a_mean_of_decimals_is_exact() -> None:
    """In floats the mean of 0.1, 0.2 and 0.3 is just below 0.2, and a good lot would fail."""
    finding = found(grade(mean(lower=0.2)), series(0.1, 0.2, 0.3))

    assert ("pass", 0.2, 0) == (finding["outcome"], finding["measured"]["value"], finding["margin"])


@pytest.mark.parametrize(
    ("limits", "resolved"),
    [
        (
            {"nominal": 130, "minus": 5, "plus": 5, "tolerance": "percent"},
            {"lower": 123.5, "upper": 136.5, "nominal": 130, "unit": "m/kg"},
        ),
        (
            {"nominal": 130, "minus": 2.5, "plus": 4, "tolerance": "absolute"},
            {"lower": 127.5, "upper": 134, "nominal": 130, "unit": "m/kg"},
        ),
        ({"nominal": 130, "minus": 5, "tolerance": "percent"}, {"lower": 123.5, "nominal": 130, "unit": "m/kg"}),
        ({"nominal": 130, "plus": 1, "tolerance": "absolute"}, {"upper": 131, "nominal": 130, "unit": "m/kg"}),
    ],
)
def test_tolerances_are_worked_out_beside_the_nominal(limits: Document, resolved: Document) -> None:
    """Whoever reads the verdict sees the limits as they were compared: 130 ± 5 % is 123.5 to 136.5."""
    finding = found(grade(mean(limits=limits), of=RUNNAGE), series(130, of=RUNNAGE))

    assert (resolved, "pass") == (finding["limits"], finding["outcome"])


def test_a_percentage_is_of_the_magnitude_of_the_nominal() -> None:
    """−4 % ± 25 % reaches from −5 % to −3 %, not the other way round."""
    limits = {"nominal": -4, "minus": 25, "plus": 25, "tolerance": "percent"}
    finding = found(grade(mean(limits=limits), of=ELONGATION), series(-4, of=ELONGATION))

    assert {"lower": -5, "upper": -3, "nominal": -4, "unit": "%"} == finding["limits"]
    assert ("pass", 1) == (finding["outcome"], finding["margin"])


@pytest.mark.parametrize(("readings", "member"), [((123,), "minus"), ((137,), "plus")])
def test_a_tolerance_is_the_rule_that_is_pointed_to(readings: tuple[float, ...], member: str) -> None:
    """The grade has no `lower` to point to; its reader finds the tolerance."""
    limits = {"nominal": 130, "minus": 5, "plus": 5, "tolerance": "percent"}
    finding = found(grade(mean(limits=limits), of=RUNNAGE), series(*readings, of=RUNNAGE))

    assert f"/requirements/0/limits/{member}" == finding["reasons"][0]["rule"]


def test_a_mean_over_packages_weighs_packages_alike() -> None:
    """b1 has (1400 + 1300 + 1200) / 3 = 1300, b2 has 1500: their mean is 1400, that of all readings 1350."""
    column = series(1400, 1300, 1200, 1500, packages=["b1", "b1", "b1", "b2"])
    over_packages = found(grade(mean(lower=1400, over="packages")), column)
    over_readings = found(grade(mean(lower=1400)), column)

    assert ("pass", 1400) == (over_packages["outcome"], over_packages["measured"]["value"])
    assert ("fail", 1350) == (over_readings["outcome"], over_readings["measured"]["value"])
    assert (4, 2) == (over_packages["measured"]["readings"], over_packages["measured"]["packages"])


@pytest.mark.parametrize(("ties", "value", "outcome"), [("even", 36, "pass"), ("away", 37, "fail")])
def test_a_mean_is_rounded_as_the_grade_says(ties: str, value: float, outcome: str) -> None:
    """36.5 turn/m lies half-way; with an upper limit of 36 the rule for ties decides. The value before stays to be seen."""
    finding = found(
        grade(mean(upper=36, rounding={"step": 1, "ties": ties}), of={"name": "twist", "unit": "turn/m"}),
        series(36, 37, of={"name": "twist", "unit": "turn/m"}),
    )

    assert (outcome, value, 36.5) == (finding["outcome"], finding["measured"]["value"], finding["measured"]["observed"])
    assert finding["margin"] == 36 - value


def test_a_rounded_value_is_called_so() -> None:
    """Nobody has measured 37.0."""
    twist = {"name": "twist", "unit": "turn/m"}
    finding = found(grade(mean(upper=36, rounding={"step": 1, "ties": "away"}), of=twist), series(36.5, of=twist))

    assert (
        "The mean twist, rounded to 37 turn/m, is 1 turn/m above the upper limit of 36 turn/m."
        == (finding["reasons"][0]["text"])
    )


def test_readings_in_several_units_add_up() -> None:
    """1 kN, 1200 N and 100 kgf = 980.665 N: their mean is 3180.665 / 3 N."""
    finding = found(grade(mean(lower=1000)), series(1, unit="kN"), series(1200), series(100, unit="kgf"))

    assert (3180.665 / 3, 3, 3) == (
        finding["measured"]["value"],
        finding["measured"]["readings"],
        finding["measured"]["packages"],
    )
    assert ["/series/0", "/series/1", "/series/2"] == finding["reasons"][0]["at"]


def test_reciprocal_readings_are_turned_round_one_by_one() -> None:
    """8 g/m is 125 m/kg and 6.25 g/m is 160: their mean is 142.5. Averaged first, 7.125 g/m would be 140.4 and fail."""
    finding = found(grade(mean(lower=142.5), of=RUNNAGE), series(8, 6.25, of=RUNNAGE, unit="g/m"))

    assert ("pass", 142.5, 0) == (finding["outcome"], finding["measured"]["value"], finding["margin"])


def test_reciprocal_and_direct_readings_add_up() -> None:
    """5000 tex is 200 m/kg; with 100 m/kg beside it the mean is 150."""
    finding = found(
        grade(mean(lower=150), of=RUNNAGE), series(5000, of=RUNNAGE, unit="tex"), series(100, of=RUNNAGE, unit="m/kg")
    )

    assert ("pass", 150, 0) == (finding["outcome"], finding["measured"]["value"], finding["margin"])


def test_a_ratio_of_means_divides_pooled_means() -> None:
    """Knots (600 + 700) / 2 = 650, straight (1200 + 1200 + 1500) / 3 = 1300: 50 %, 5 percentage points short of 55 %."""
    specification = grade(mean(lower=55), of=[POOLED_EFFICIENCY, FORCE, KNOT_FORCE])
    evidence = lot(series(1200, 1200, 1500), series(600, 700, of=KNOT_FORCE))
    finding = judged(specification, evidence)["findings"][0]

    assert ("fail", 50, -5) == (finding["outcome"], finding["measured"]["value"], finding["margin"])
    assert ["/series/0", "/series/1"] == finding["reasons"][0]["at"]
    assert (
        "The mean knot efficiency, 50 %, is 5 percentage points below the lower limit of 55 %."
        == (finding["reasons"][0]["text"])
    )


def test_a_ratio_of_means_is_put_into_its_own_unit() -> None:
    """500 N by 10 000 tex is 0.05 N/tex, 5 cN/tex."""
    density = {"name": "linear_density", "unit": "ktex"}
    tenacity = {
        "name": "tenacity",
        "unit": "cN/tex",
        "derived": {"kind": "ratio_of_means", "numerator": "breaking_force", "denominator": "linear_density"},
    }
    finding = found(grade(mean(lower=5), of=[tenacity, FORCE, density]), series(500), series(100, of=density, unit="m/kg"))

    assert ("pass", 5) == (finding["outcome"], finding["measured"]["value"])


def test_a_mean_never_fails_while_its_sample_is_short() -> None:
    """Readings to come may lift it; 1 of 5 packages says nothing for sure."""
    finding = found(grade(mean(lower=1400), of=sampled(FORCE, 5)), series(1))

    assert "undecided" == finding["outcome"]
    assert [{"characteristic": "breaking_force", "packages": 4, "readings": 4}] == finding["missing"]


def test_readings_beyond_the_sample_are_judged_too() -> None:
    """Nobody chooses the readings that suit: 1400, 1400 alone would pass."""
    finding = found(grade(mean(lower=1400), of=sampled(FORCE, 2)), series(1400, 1400, 1300))

    assert ("fail", 3) == (finding["outcome"], finding["measured"]["readings"])


def test_minus_zero_is_zero() -> None:
    """Neither the value nor the margin has a sign that means nothing."""
    finding = found(grade(mean(lower=0, upper=1), of=ELONGATION), series(-0.0, of=ELONGATION))

    assert ("pass", "0.0", "0.0") == (finding["outcome"], str(finding["measured"]["value"]), str(finding["margin"]))


def test_a_long_numeral_is_read_whole() -> None:
    """17 digits are more than a whole number of 15 can hold; the reading is still what was written."""
    finding = found(grade(mean(upper=0.3)), series(0.30000000000000004))

    assert ("fail", 0.30000000000000004) == (finding["outcome"], finding["measured"]["value"])
    assert (
        "The mean breaking force, 0.30000000000000004 N, is 0.00000000000000004 N above the upper limit of 0.3 N."
        == (finding["reasons"][0]["text"])
    )


@pytest.mark.parametrize(
    ("reading", "sentence"),
    [
        (1399.97, "The mean breaking force, 1399.97 N, is 0.03 N below the lower limit of 1400 N."),
        (1399.9996, "The mean breaking force, 1399.9996 N, is 0.0004 N below the lower limit of 1400 N."),
        (1400.04, "The mean breaking force, 1400.04 N, is 0.04 N above the lower limit of 1400 N."),
        (1392.44, "The mean breaking force, 1392.4 N, is 7.6 N below the lower limit of 1400 N."),
        (1e-9, "The mean breaking force, 0 N, is 1400 N below the lower limit of 1400 N."),
    ],
)
def test_the_figure_in_a_sentence_stands_on_its_true_side(reading: float, sentence: str) -> None:
    """A sentence like "1400.0 N is below 1400 N" would make a reader doubt all the rest."""
    assert sentence == found(grade(mean(lower=1400)), series(reading))["reasons"][0]["text"]
