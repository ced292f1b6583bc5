"""Readings that are more likely mistyped than bad decide nothing until somebody has looked; values worked by hand."""

import pytest

from tests.support.grades import EFFICIENCY, FORCE, KNOT_FORCE, RUNNAGE, Document, each, grade, lot, mean, series
from tests.support.judging import checked, flaws_of, found, judged

PLAUSIBLE: Document = {**FORCE, "plausible": {"lower": 300, "upper": 4000}}


def test_an_implausible_reading_leaves_the_lot_undecided_and_says_which() -> None:
    """14 for 1400 is a slip of the finger; a lot is neither refused nor passed for it."""
    finding = found(grade(mean(lower=1000), of=PLAUSIBLE), series(1400, 14))

    assert "undecided" == finding["outcome"]
    assert {"lower": 1000, "unit": "N"} == finding["limits"]
    assert [
        {
            "code": "implausible",
            "text": (
                "The breaking force, 14 N, is 286 N below the least plausible value, 300 N. "
                "Remark it `confirmed` if it is right, or `struck` if it is not."
            ),
            "with": {"readings": 1, "worst": 14, "lower": 300, "upper": 4000, "unit": "N"},
            "rule": "/characteristics/0/plausible/lower",
            "at": ["/series/0/values/1"],
            "at_total": 1,
        }
    ] == finding["reasons"]


def test_an_implausible_reading_beats_a_failing_one() -> None:
    """A typing error must not fail a lot at once, not even where no further reading could save it."""
    finding = found(grade(each(lower=1000), of=PLAUSIBLE), series(1400, 14, 900, 45000))

    assert ("undecided", "implausible") == (finding["outcome"], finding["reasons"][0]["code"])
    assert ["/series/0/values/1", "/series/0/values/3"] == finding["reasons"][0]["at"]
    assert (
        "2 readings of breaking force are not plausible; the farthest, 45000 N, is 41000 N above the greatest "
        "plausible value, 4000 N. Remark each `confirmed` if it is right, or `struck` if it is not."
    ) == finding["reasons"][0]["text"]


@pytest.mark.parametrize("value", [300, 4000])
def test_what_is_plausible_is_so_to_its_very_ends(value: float) -> None:
    """The ends are inclusive, as limits are."""
    assert "pass" == found(grade(each(lower=1), of=PLAUSIBLE), series(value))["outcome"]


@pytest.mark.parametrize("value", [299.9, 4000.1])
def test_a_confirmed_reading_counts_however_odd_it_is(value: float) -> None:
    """Somebody has looked: it fails or passes by the limits of the grade."""
    odd = {**series(value), "remarks": ["confirmed"]}

    assert "undecided" == found(grade(each(lower=1), of=PLAUSIBLE), series(value))["outcome"]
    assert "pass" == found(grade(each(lower=1), of=PLAUSIBLE), odd)["outcome"]
    assert "fail" == found(grade(each(lower=5000), of=PLAUSIBLE), odd)["outcome"]


def test_a_struck_reading_is_no_longer_implausible() -> None:
    """Once struck it is as if it had not been sent; one confirmed does not confirm another."""
    struck = {**series(1400, 14), "remarks": ["", "struck"]}
    one_of_two = {**series(14, 15), "remarks": ["confirmed", ""]}

    assert "pass" == found(grade(mean(lower=1000), of=PLAUSIBLE), struck)["outcome"]
    assert ["/series/0/values/1"] == found(grade(mean(lower=1), of=PLAUSIBLE), one_of_two)["reasons"][0]["at"]


def test_plausibility_goes_by_the_unit_of_the_grade() -> None:
    """899 lbf are 3999 N and plausible, 900 lbf are 4003 N and not."""
    assert "pass" == found(grade(each(lower=1), of=PLAUSIBLE), series(899, unit="lbf"))["outcome"]
    assert "undecided" == found(grade(each(lower=1), of=PLAUSIBLE), series(900, unit="lbf"))["outcome"]


def test_a_reading_turned_round_is_implausible_as_it_comes_out() -> None:
    """80 tex are 12 500 m/kg: a zero or two too many for a baler twine."""
    of = {**RUNNAGE, "plausible": {"upper": 1000}}

    assert "implausible" == found(grade(mean(lower=1), of=of), series(80, of=RUNNAGE, unit="tex"))["reasons"][0]["code"]
    assert "pass" == found(grade(mean(lower=1), of=of), series(8000, of=RUNNAGE, unit="tex"))["outcome"]


@pytest.mark.parametrize("side", [0, 1])
def test_what_is_derived_from_an_implausible_reading_is_undecided(side: int) -> None:
    """A knot efficiency of 4300 % is no reason to praise the twine."""
    sides = [series(860, of=KNOT_FORCE), series(1400)]
    sides[side] = {**sides[side], "values": [14]}
    characteristics = [EFFICIENCY, {**KNOT_FORCE, "plausible": {"lower": 100}}, PLAUSIBLE]
    finding = found(grade(mean(lower=1), of=characteristics), *sides)

    assert ("undecided", "implausible") == (finding["outcome"], finding["reasons"][0]["code"])


def test_many_readings_are_looked_at_alike() -> None:
    """A column of a hundred is checked as one of two."""
    finding = found(grade(mean(lower=1), of=PLAUSIBLE), series(*[1400 + number for number in range(99)], 14))

    assert ["/series/0/values/99"] == finding["reasons"][0]["at"]


def test_a_break_outside_the_marks_can_be_mistyped_too() -> None:
    """910 for 91 would pass at its share of the limit."""
    of = {**PLAUSIBLE, "remarks": {"passes_outside_marks_at": {"percent": 90}}}
    mistyped = {**series(9100), "remarks": ["broke_outside_marks"]}
    verdict = judged(grade(each(lower=1000), mean(lower=1000), of=of), lot(mistyped))

    assert ["implausible", "implausible"] == [finding["reasons"][0]["code"] for finding in verdict["findings"]]


def test_a_reading_that_is_left_out_need_not_be_plausible() -> None:
    """A specimen that slipped at 14 N tells nothing, and nothing of it is taken."""
    of = {**PLAUSIBLE, "remarks": {"leave_out": ["slipped"]}}

    assert "pass" == found(grade(mean(lower=1), of=of), {**series(14, 1400), "remarks": ["slipped", ""]})["outcome"]


def test_a_check_of_an_implausible_reading_is_never_green() -> None:
    """45 000 N is above the lower limit, and the operator has leant on the key."""
    answer = checked(grade(each(lower=1000), each(upper=50_000), of=PLAUSIBLE), 45_000)

    assert "undecided" == answer["outcome"]
    assert ["implausible"] == [reason["code"] for reason in answer["reasons"]]
    assert ["undecided", "undecided"] == [finding["outcome"] for finding in answer["findings"]]
    assert (
        "This breaking force, 45000 N, is 41000 N above the greatest plausible value, 4000 N. "
        "Measure again, or send it with its lot and confirm it there by a remark."
    ) == answer["reasons"][0]["text"]


def test_a_check_of_a_plausible_reading_is_judged_as_ever() -> None:
    """Most readings are right."""
    assert "pass" == checked(grade(each(lower=1000), of=PLAUSIBLE), 4000)["outcome"]
    assert "fail" == checked(grade(each(lower=1000), of=PLAUSIBLE), 300)["outcome"]


def test_a_check_without_a_single_limit_says_both() -> None:
    """The operator learns that it is odd, and that it would decide nothing anyway."""
    answer = checked(grade(mean(lower=1000), of=PLAUSIBLE), 14)

    assert ["implausible", "no-single-limit"] == [reason["code"] for reason in answer["reasons"]]
    assert [] == answer["findings"]


@pytest.mark.parametrize(
    ("plausible", "code", "at"),
    [
        ({"lower": 4000, "upper": 300}, "limits-upside-down", "/characteristics/0/plausible"),
        ({}, "limits-without-sides", "/characteristics/0/plausible"),
        ({"lower": -1}, "negative", "/characteristics/0/plausible/lower"),
        ({"upper": 1e15}, "beyond-range", "/characteristics/0/plausible/upper"),
    ],
)
def test_what_is_plausible_has_the_flaws_that_limits_have(plausible: Document, code: str, at: str) -> None:
    """Bounds that no reading is within would leave every lot undecided."""
    (flaw,) = flaws_of(grade(mean(lower=1), of={**FORCE, "plausible": plausible}))

    assert (code, at) == (flaw.code, flaw.at)
