"""Limits that exclude their own value, and rounding that goes one way only."""

from fractions import Fraction

import pytest

from service.engine.documents import Flaw
from service.engine.numbers import Way, root_of, to_step
from tests.support.grades import Document, each, grade, lot, mean, series
from tests.support.judging import checked, flaws_of, found, judged

ABOVE: Document = {"limits": {"above": 1400}}
AT = "/requirements/0/limits"


@pytest.mark.parametrize(
    ("requirement", "value", "outcome"),
    [
        (ABOVE, 1400, "fail"),
        (ABOVE, 1400.1, "pass"),
        ({"limits": {"below": 1400}}, 1400, "fail"),
        ({"limits": {"below": 1400}}, 1399.9, "pass"),
        ({"limits": {"above": 1400, "upper": 1500}}, 1500, "pass"),
        ({"limits": {"lower": 1400, "below": 1500}}, 1500, "fail"),
    ],
)
@pytest.mark.parametrize("kind", ["mean", "each"])
def test_a_limit_that_excludes_its_value_fails_it(kind: str, requirement: Document, value: float, outcome: str) -> None:
    """Whoever asks for more than 1400 N is not served by 1400 N."""
    specification = grade({"kind": kind, **requirement})

    assert outcome == found(specification, series(value))["outcome"]
    assert outcome == judged(specification, lot(series(*[value] * 100)))["outcome"]


def test_the_sentence_says_that_the_limit_itself_does_not_do() -> None:
    """A margin of 0 that fails would be a riddle without it."""
    finding = found(grade({"kind": "mean", **ABOVE}), series(1400))

    assert ("fail", 0.0, {"above": 1400, "unit": "N"}) == (finding["outcome"], finding["margin"], finding["limits"])
    assert (
        "The mean breaking force, 1400 N, is exactly on the lower limit of 1400 N, and must be above it."
        == finding["reasons"][0]["text"]
    )


def test_values_on_an_excluding_limit_are_counted_outside() -> None:
    """Two of four readings are on the limit and one is below it."""
    finding = found(grade(each(allowed_outside={"count": 2}, **ABOVE)), series(1400, 1401, 1399, 1400))

    assert ("fail", 3, 2) == (finding["outcome"], finding["measured"]["outside"], finding["measured"]["allowed"])


def test_a_check_of_a_reading_on_an_excluding_limit_fails() -> None:
    """The station shows no green at the very limit."""
    assert "fail" == checked(grade(each(**ABOVE)), 1400)["outcome"]
    assert "pass" == checked(grade(each(**ABOVE)), 1400.5)["outcome"]


def test_a_side_is_bounded_in_one_way() -> None:
    """Whether the value itself will do has one answer."""
    flaw = Flaw(
        "limits-in-two-ways",
        "`lower` includes its own value and `above` excludes it. Remove one of the two.",
        f"{AT}/above",
    )

    assert [flaw] == flaws_of(grade({"kind": "mean", "limits": {"lower": 1, "above": 2}}))


def test_limits_between_which_nothing_lies_are_refused() -> None:
    """Above 5 and at most 5 is nothing."""
    text = "Both limits are 5 N, and one of them excludes it, so no value can be within them. Correct one."

    assert [Flaw("limits-upside-down", text, AT)] == flaws_of(grade({"kind": "mean", "limits": {"above": 5, "upper": 5}}))


@pytest.mark.parametrize(
    ("value", "way", "rounded"),
    [
        ("36.2", "up", 37),
        ("36.2", "down", 36),
        ("36", "up", 36),
        ("36", "down", 36),
        ("-36.2", "up", -36),
        ("-36.2", "down", -37),
    ],
)
def test_a_value_can_be_rounded_one_way_only(value: str, way: Way, rounded: int) -> None:
    """Tolerances are rounded up and computed forces down, whatever the next digit; whole steps stay."""
    assert rounded == to_step(Fraction(value), Fraction(1), way)


def test_a_root_can_be_rounded_one_way_only() -> None:
    """√2 lies between 1.41 and 1.42."""
    step = Fraction(1, 100)

    assert Fraction("1.42") == to_step(root_of(Fraction(2)), step, "up")
    assert Fraction("1.41") == to_step(root_of(Fraction(2)), step, "down")
    assert Fraction("-1.42") == to_step(root_of(Fraction(2), -1), step, "down")


@pytest.mark.parametrize(("toward", "outcome", "value"), [("up", "pass", 37), ("down", "fail", 36)])
def test_a_requirement_may_round_one_way(toward: str, outcome: str, value: float) -> None:
    """36.2 turns are 37 to whoever rounds up, 36 to whoever cuts off."""
    finding = found(grade(mean(lower=37, rounding={"step": 1, "toward": toward})), series(36.2))

    assert (outcome, value, 36.2) == (finding["outcome"], finding["measured"]["value"], finding["measured"]["observed"])


def test_rounding_goes_to_the_nearest_or_one_way() -> None:
    """A rounding that says both says nothing."""
    both = flaws_of(grade(mean(lower=1, rounding={"step": 1, "ties": "even", "toward": "up"})))
    neither = flaws_of(grade(mean(lower=1, rounding={"step": 1})))

    assert ["rounding-in-two-ways"] == [flaw.code for flaw in both]
    assert "A value that is always rounded `toward` one side has no `ties`. Remove one of the two." == both[0].text
    assert [("missing-field", "/requirements/0/rounding/ties")] == [(flaw.code, flaw.at) for flaw in neither]
