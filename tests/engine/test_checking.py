"""What one reading by itself comes to, the first of its kind and every later one."""

from collections.abc import Iterator

import pytest

from service.engine.checking import judge_reading
from service.engine.documents import Check, FlawedDocumentError, Outcome
from service.engine.grade import CompiledGrade
from tests.support.grades import EFFICIENCY, ELONGATION, FORCE, KNOT_FORCE, RUNNAGE, TWIST, Document, each, grade, mean
from tests.support.judging import checked, compiled

STRENGTH = grade(each(lower=1120), mean(lower=1400), each(lower=1260, over="packages"))
ONE_MAY = grade(each(lower=1120, allowed_outside={"count": 1}, outer={"lower": 980}))


def test_a_reading_within_passes() -> None:
    """The station shows green, the margin, and where the reading lies beside the limits on means."""
    answer = checked(STRENGTH, 1300)

    assert ("pass", "breaking_force", "TB-130") == (answer["outcome"], answer["characteristic"], answer["grade"])
    assert [("r0", "pass", 180)] == [(each["requirement"], each["outcome"], each["margin"]) for each in answer["findings"]]
    assert {"statistic": "reading", "value": 1300, "unit": "N"} == answer["findings"][0]["measured"]
    assert {
        "code": "within",
        "text": "This breaking force, 1300 N, is 180 N above the lower limit of 1120 N.",
        "with": {"value": 1300, "limit": 1120, "unit": "N", "by": 180},
        "rule": "/requirements/0/limits/lower",
        "at": ["/value"],
        "at_total": 1,
    } == answer["findings"][0]["reasons"][0]


def test_a_reading_is_shown_beside_the_limits_on_means() -> None:
    """They decide nothing yet: the reading alone would have a margin of −100 and of 40 there."""
    assert [
        {"requirement": "r1", "kind": "mean", "limits": {"lower": 1400, "unit": "N"}, "difference": -100},
        {"requirement": "r2", "kind": "each", "limits": {"lower": 1260, "unit": "N"}, "difference": 40},
    ] == checked(STRENGTH, 1300)["with_others"]


def test_a_reading_outside_fails_where_none_may_be() -> None:
    """1119 N is 1 N short."""
    answer = checked(STRENGTH, 1119)

    assert ("fail", -1, "below-lower") == (
        answer["outcome"],
        answer["findings"][0]["margin"],
        answer["findings"][0]["reasons"][0]["code"],
    )


def test_a_reading_outside_is_undecided_where_some_may_be() -> None:
    """Red would be wrong and green too: the lot decides."""
    answer = checked(ONE_MAY, 1100)

    assert "undecided" == answer["outcome"]
    assert [
        {
            "code": "outside-if-allowed",
            "text": (
                "This breaking force, 1100 N, is 20 N below the lower limit of 1120 N; up to 1 of a lot's readings "
                "may be outside, so the lot decides."
            ),
            "with": {"value": 1100, "limit": 1120, "unit": "N", "by": 20},
            "rule": "/requirements/0/allowed_outside",
            "at": ["/value"],
            "at_total": 1,
        }
    ] == answer["findings"][0]["reasons"]


def test_a_percentage_that_may_be_outside_is_told() -> None:
    """2.5 % stays 2.5 %."""
    text = checked(grade(each(lower=1120, allowed_outside={"percent": 2.5})), 1100)["findings"][0]["reasons"][0]["text"]

    assert "up to 2.5 % of a lot's readings may be outside" in text


@pytest.mark.parametrize("allowed", [{"count": 0}, {"percent": 0}])
def test_an_allowance_of_none_allows_none(allowed: Document) -> None:
    """Written out or left out, it is the same."""
    assert "fail" == checked(grade(each(lower=1120, allowed_outside=allowed)), 1100)["outcome"]


def test_a_reading_beyond_the_outer_limit_fails_though_some_may_be_outside() -> None:
    """979 N is 1 N beyond."""
    answer = checked(ONE_MAY, 979)

    assert ("fail", -1) == (answer["outcome"], answer["findings"][0]["margin"])
    assert [("beyond-outer", "/requirements/0/outer/lower")] == [
        (reason["code"], reason["rule"]) for reason in answer["findings"][0]["reasons"]
    ]
    assert (
        "This breaking force, 979 N, is 1 N below the lower outer limit of 980 N, which no reading may be."
        == (answer["findings"][0]["reasons"][0]["text"])
    )


def test_a_reading_outside_and_beyond_is_told_both() -> None:
    """None may be outside, and the outer limit is broken too; the margin is to the limit, −141."""
    answer = checked(grade(each(lower=1120, outer={"lower": 980})), 979)

    assert ["below-lower", "beyond-outer"] == [reason["code"] for reason in answer["findings"][0]["reasons"]]
    assert -141 == answer["findings"][0]["margin"]


def test_a_reading_on_which_no_single_limit_bears_is_undecided() -> None:
    """Never green without a limit: a mean says nothing of one reading."""
    answer = checked(grade(mean(lower=1400)), 1500)

    assert ("undecided", []) == (answer["outcome"], answer["findings"])
    assert [
        {
            "code": "no-single-limit",
            "text": (
                "The grade has no limit on a single reading of breaking force: a reading decides nothing, the "
                "verdict on the lot does."
            ),
            "with": {},
            "rule": "/characteristics/0",
            "at": ["/value"],
            "at_total": 1,
        }
    ] == answer["reasons"]


def test_a_limit_that_is_not_binding_is_no_green() -> None:
    """A reading within it is still not one that the grade takes, and its finding is not shown as if it were."""
    answer = checked(grade(each(lower=1120, binding=False), mean(lower=1400)), 1500)

    assert ("undecided", []) == (answer["outcome"], answer["findings"])
    assert "no-single-limit" == answer["reasons"][0]["code"]


def test_a_check_is_rounded_as_the_requirement_says() -> None:
    """42.5 rounds to the even 42, which is in; what was observed is told."""
    rounded = grade(each(upper=42, rounding={"step": 1, "ties": "even"}), of=TWIST)
    answer = checked(rounded, 42.5, "twist", "turn/m")

    assert ("pass", 42, 42.5, 0) == (
        answer["outcome"],
        answer["findings"][0]["measured"]["value"],
        answer["findings"][0]["measured"]["observed"],
        answer["findings"][0]["margin"],
    )
    assert (
        "This twist, rounded to 42 turn/m, is exactly on the upper limit of 42 turn/m."
        == (answer["findings"][0]["reasons"][0]["text"])
    )


def test_a_check_in_the_reciprocal_unit_is_turned_round() -> None:
    """8000 tex are 125 m/kg."""
    answer = checked(grade(each(lower=125), of=RUNNAGE), 8000, "runnage", "tex")

    assert ("pass", 125, 0) == (
        answer["outcome"],
        answer["findings"][0]["measured"]["value"],
        answer["findings"][0]["margin"],
    )


def test_a_check_in_another_unit_is_exact() -> None:
    """1 lbf is 4.4482216152605 N by definition: on the limit, not a hair off it."""
    answer = checked(grade(each(lower=4.4482216152605, upper=4.4482216152605)), 1, unit="lbf")

    assert ("pass", 0) == (answer["outcome"], answer["findings"][0]["margin"])


def test_a_limit_on_a_quotient_does_not_bear_on_its_sides() -> None:
    """One straight specimen says nothing of an efficiency."""
    answer = checked(grade(each(lower=55), of=[EFFICIENCY, FORCE, KNOT_FORCE]), 1400)

    assert ("undecided", [], []) == (answer["outcome"], answer["findings"], answer["with_others"])


def test_two_limits_on_one_reading_must_both_be_met() -> None:
    """The stricter of two clauses decides."""
    answer = checked(grade(each(lower=1120), each(lower=1200)), 1150)

    assert ("fail", ["pass", "fail"]) == (answer["outcome"], [each["outcome"] for each in answer["findings"]])


def of_readings(grade: CompiledGrade, of: str, unit: str, *readings: float) -> Iterator[Outcome | list[str]]:
    """The outcome of each reading in turn, by one compiled grade, or the codes of its flaws."""
    for reading in readings:
        try:
            yield judge_reading(grade, Check(grade="TB-130", characteristic=of, unit=unit, value=reading)).outcome
        except FlawedDocumentError as refusal:
            yield [flaw.code for flaw in refusal.flaws]


def test_a_later_reading_is_looked_at_as_the_first_one() -> None:
    """What is kept of the first reading must not let a bad one through."""
    outcomes = of_readings(compiled(grade(each(lower=1120))), "breaking_force", "N", 1300, -5, 1e13, 0, 1119, 1120)

    assert [Outcome.PASS, ["negative"], ["beyond-range"], Outcome.FAIL, Outcome.FAIL, Outcome.PASS] == list(outcomes)


def test_a_later_zero_is_not_turned_round() -> None:
    """Nor is it a runnage without end."""
    outcomes = of_readings(compiled(grade(each(lower=125), of=RUNNAGE)), "runnage", "tex", 8000, 0, -0.0, 8001)

    assert [Outcome.PASS, ["zero-turned-round"], ["zero-turned-round"], Outcome.FAIL] == list(outcomes)


def test_a_later_count_is_a_whole_number_too() -> None:
    """Two and a half strands are none."""
    outcomes = of_readings(compiled(grade(each(lower=3), of={"name": "strands"})), "strands", "1", 3, 2.5, 2)

    assert [Outcome.PASS, ["not-whole"], Outcome.FAIL] == list(outcomes)


def test_a_later_ratio_may_be_negative() -> None:
    """The first one was not, and that is no rule."""
    outcomes = of_readings(compiled(grade(each(lower=-2), of=ELONGATION)), "elongation_at_break", "%", 1, -1, -3)

    assert [Outcome.PASS, Outcome.PASS, Outcome.FAIL] == list(outcomes)


def test_readings_in_two_units_are_told_apart() -> None:
    """A station in newtons and one in pounds-force check by one grade: 314 lbf are 1396.7 N, 315 are 1401.2."""
    strength = compiled(grade(each(lower=1400)))

    assert [Outcome.PASS] == list(of_readings(strength, "breaking_force", "N", 1400))
    assert [Outcome.FAIL, Outcome.PASS] == list(of_readings(strength, "breaking_force", "lbf", 314, 315))
    assert [Outcome.PASS] == list(of_readings(strength, "breaking_force", "N", 1400))


@pytest.mark.parametrize("name", ["Breaking_force", "BREAKING_FORCE", "breaking-force"])
def test_a_name_written_in_another_way_is_told_the_one_that_is_meant(name: str) -> None:
    """A station's list of names rarely has our underscores and small letters at the first try."""
    with pytest.raises(FlawedDocumentError) as raised:
        judge_reading(compiled(STRENGTH), Check("TB-130", name, "N", 1300))

    (flaw,) = raised.value.flaws
    assert ("unknown-characteristic", "/characteristic") == (flaw.code, flaw.at)
    assert f"The grade has no characteristic `{name}`. Did you mean `breaking_force`?" == flaw.text
