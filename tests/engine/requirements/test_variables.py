"""Acceptance by variables with a given k; values worked by hand."""

import pytest

from tests.support.grades import ELONGATION, FORCE, grade, sampled, series, variables
from tests.support.judging import found


def test_a_quality_below_k_fails() -> None:
    """10, 20, 30: mean 20, s = 10; towards a lower limit of 5 Q = 1.5, half a unit below k = 2."""
    finding = found(grade(variables(2, lower=5)), series(10, 20, 30))

    assert ("fail", 1.5, -0.5) == (finding["outcome"], finding["measured"]["value"], finding["margin"])
    assert {"statistic": "quality", "value": 1.5, "unit": "1", "readings": 3, "packages": 3} == finding["measured"]
    assert {"lower": 5, "k": 2, "unit": "N"} == finding["limits"]
    assert {
        "code": "quality-below-k",
        "text": (
            "The mean breaking force lies 1.5 standard deviations above the lower limit of 5 N; the grade asks for at least 2."
        ),
        "with": {"value": 1.5, "k": 2, "limit": 5, "unit": "N"},
        "rule": "/requirements/0/k",
        "at": ["/series/0"],
        "at_total": 1,
    } == finding["reasons"][0]


def test_a_quality_of_k_passes() -> None:
    """Equality accepts. Source: MIL-STD-414, section B, Form 1."""
    finding = found(grade(variables(1.5, lower=5)), series(10, 20, 30))

    assert ("pass", 0, "within") == (finding["outcome"], finding["margin"], finding["reasons"][0]["code"])
    text = "The mean breaking force lies exactly 1.5 standard deviations above the lower limit of 5 N"
    assert f"{text}; the grade asks for at least 1.5." == finding["reasons"][0]["text"]


def test_of_two_limits_the_nearer_one_decides() -> None:
    """(20 − 0) / 10 = 2 and (32 − 20) / 10 = 1.2: the upper limit is nearer."""
    finding = found(grade(variables(1, lower=0, upper=32)), series(10, 20, 30))

    assert ("pass", 1.2) == (finding["outcome"], finding["measured"]["value"])
    assert 32 == finding["reasons"][0]["with"]["limit"]


def test_a_mean_outside_has_a_negative_quality() -> None:
    """(20 − 25) / 10 = −0.5: k = 0 would take it if only the distance counted."""
    finding = found(grade(variables(0, lower=25)), series(10, 20, 30))

    assert ("fail", -0.5, -0.5) == (finding["outcome"], finding["measured"]["value"], finding["margin"])


def test_an_irrational_quality_is_compared_without_rounding() -> None:
    """1 and 3 have s = √2: towards 1 Q = 1/√2 = 0.70710678118654752440…, between two numerals one place apart."""
    above = found(grade(variables(0.7071067811865475, lower=1)), series(1, 3))
    below = found(grade(variables(0.7071067811865476, lower=1)), series(1, 3))

    assert ("pass", "fail") == (above["outcome"], below["outcome"])
    assert 0.7071067811865476 == above["measured"]["value"]


@pytest.mark.parametrize(
    ("reading", "outcome", "code", "words"),
    [
        (5, "pass", "within", "5 %, which is exactly on the lower limit of 5 %"),
        (6, "pass", "within", "6 %, which is 1 percentage point above the lower limit of 5 %"),
        (4, "fail", "quality-below-k", "4 %, which is 1 percentage point below the lower limit of 5 %"),
        (9, "fail", "quality-below-k", "9 %, which is 1 percentage point above the upper limit of 8 %"),
    ],
)
def test_without_spread_the_limits_decide(reading: float, outcome: str, code: str, words: str) -> None:
    """At s = 0 there is no quality statistic, so the finding has neither a measured value nor a margin."""
    finding = found(grade(variables(2, lower=5, upper=8), of=ELONGATION), series(reading, reading, of=ELONGATION))

    assert (outcome, code) == (finding["outcome"], finding["reasons"][0]["code"])
    assert f"All values of elongation at break are the same: {words}." == finding["reasons"][0]["text"]
    assert not {"measured", "margin"} & finding.keys()


def test_package_means_can_be_the_values() -> None:
    """b1: 10, b2: 30: mean 20, s = √200 = 14.14…; (20 − 0) / √200 = √2 = 1.41."""
    column = series(5, 15, 25, 35, packages=["b1", "b1", "b2", "b2"])

    assert 2**0.5 == found(grade(variables(1, lower=0, over="packages")), column)["measured"]["value"]


def test_it_never_fails_early() -> None:
    """A further reading can raise the mean and lower the spread."""
    finding = found(grade(variables(2, lower=5), of=sampled(FORCE, 5)), series(1, 2))

    assert ("undecided", [{"characteristic": "breaking_force", "packages": 3, "readings": 3}]) == (
        finding["outcome"],
        finding["missing"],
    )


def test_one_reading_is_not_enough() -> None:
    """It has no spread."""
    assert "undecided" == found(grade(variables(2, lower=5)), series(100))["outcome"]
