"""Readings from an instrument overdue for calibration: taken, unless the grade says that they decide nothing."""

import pytest

from service.engine.reviewing import advice_on
from tests.support.grades import DIRECTION, EFFICIENCY, FORCE, KNOT_FORCE, RUNNAGE, Document, each, fixed, grade, mean, series
from tests.support.judging import compiled, flaws_of, found

CALIBRATED: Document = {**FORCE, "overdue_calibration": "undecided"}


def overdue(*values: float, of: Document = FORCE) -> Document:
    """A series from an instrument that was due for calibration when it was read."""
    return {**series(*values, of=of), "calibration": "overdue"}


def test_readings_of_an_overdue_instrument_decide_nothing_where_the_grade_says_so() -> None:
    """Neither a pass nor a failure rests on an instrument that nobody vouches for; the remedy is told."""
    finding = found(grade(each(lower=10), of=CALIBRATED), series(12), overdue(5, 6))

    assert "undecided" == finding["outcome"]
    assert [
        {
            "code": "calibration-overdue",
            "text": (
                "2 readings of breaking force are from an instrument overdue for calibration, and the grade does "
                "not allow that. Strike them, and measure again with a calibrated instrument."
            ),
            "with": {"readings": 2},
            "rule": "/characteristics/0/overdue_calibration",
            "at": ["/series/1"],
            "at_total": 1,
        }
    ] == finding["reasons"]


@pytest.mark.parametrize("of", [FORCE, {**FORCE, "overdue_calibration": "taken"}])
@pytest.mark.parametrize(("value", "outcome"), [(12, "pass"), (5, "fail")])
def test_they_are_taken_where_the_grade_does_not_mind(of: Document, value: float, outcome: str) -> None:
    """A mill that only wants it on record writes nothing, and loses no lot to it."""
    assert outcome == found(grade(each(lower=10), of=of), overdue(value))["outcome"]


def test_an_instrument_in_date_needs_no_word() -> None:
    """The ordinary case."""
    assert "pass" == found(grade(each(lower=10), of=CALIBRATED), series(12))["outcome"]


def test_struck_readings_of_an_overdue_instrument_are_not_there() -> None:
    """That is the remedy that the sentence tells."""
    struck = {**overdue(5), "remarks": ["struck"]}

    assert "pass" == found(grade(each(lower=10), of=CALIBRATED), struck, series(12))["outcome"]


def test_an_overdue_instrument_reaches_what_is_derived() -> None:
    """A quotient rests on both its sides."""
    finding = found(grade(mean(lower=1), of=[EFFICIENCY, KNOT_FORCE, CALIBRATED]), series(3, of=KNOT_FORCE), overdue(5))

    assert ("undecided", ["calibration-overdue"]) == (finding["outcome"], [each["code"] for each in finding["reasons"]])


def test_an_overdue_instrument_reaches_no_other_characteristic() -> None:
    """The runnage was weighed and reeled elsewhere."""
    finding = found(grade(mean(lower=1), of=[RUNNAGE, CALIBRATED]), series(130, of=RUNNAGE), overdue(5))

    assert "pass" == finding["outcome"]


def test_the_rule_is_about_readings() -> None:
    """What is only declared was read on no instrument."""
    specification = grade(each(lower=1, of="breaking_force"), of=[{**DIRECTION, "overdue_calibration": "undecided"}, FORCE])

    assert [("not-of-readings", "/characteristics/0/overdue_calibration")] == [
        (flaw.code, flaw.at) for flaw in flaws_of(specification)
    ]


def test_a_guard_that_rests_on_an_overdue_instrument_is_advised_on() -> None:
    """Guard bands are drawn from an uncertainty, which holds only while the calibration does."""
    decision = {"rule": "guarded_acceptance", "uncertainty": {"expanded": 0.1, "coverage_factor": 2}, "between": "undecided"}
    guarded = each(lower=1, sample=fixed(2), decision=decision)

    assert [("guarded-yet-overdue-taken", "/characteristics/0", "/requirements/0")] == [
        (advice.code, advice.at, advice.rule) for advice in advice_on(compiled(grade(guarded)))
    ]
    assert [] == advice_on(compiled(grade(guarded, of=CALIBRATED)))
