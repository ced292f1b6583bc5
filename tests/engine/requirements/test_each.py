"""Each value of a lot beside limits, with some allowed outside and outer limits; values worked by hand."""

import pytest

from tests.support.grades import (
    EFFICIENCY,
    FORCE,
    KNOT_FORCE,
    RUNNAGE,
    TWIST,
    Document,
    each,
    fixed,
    grade,
    lot,
    sampled,
    series,
)
from tests.support.judging import found, judged

ONE_ALLOWED: Document = {"count": 1}


def test_readings_on_both_limits_pass() -> None:
    """Limits are inclusive on either side."""
    finding = found(grade(each(lower=36, upper=42), of=TWIST), series(36, 42, of=TWIST))

    assert ("pass", 0) == (finding["outcome"], finding["margin"])
    assert (
        "All 2 readings of twist are within the limits; the lowest, 36 turn/m, is exactly on the lower limit of 36 turn/m."
    ) == finding["reasons"][0]["text"]


def test_one_reading_outside_fails_and_is_pointed_to() -> None:
    """The worst of 1300, 1119 and 1250 is 1 N short of 1120."""
    finding = found(grade(each(lower=1120)), series(1300, 1119, 1250))

    assert ("fail", -1) == (finding["outcome"], finding["margin"])
    assert {
        "statistic": "reading",
        "value": 1119,
        "unit": "N",
        "readings": 3,
        "packages": 3,
        "outside": 1,
        "allowed": 0,
    } == finding["measured"]
    assert [
        {
            "code": "too-many-outside",
            "text": (
                "1 of 3 readings of breaking force is outside the limits, and none may be; the lowest, 1119 N, is "
                "1 N below the lower limit of 1120 N."
            ),
            "with": {"outside": 1, "allowed": 0, "values": 3, "worst": 1119, "unit": "N"},
            "rule": "/requirements/0/limits",
            "at": ["/series/0/values/1"],
            "at_total": 1,
        }
    ] == finding["reasons"]


def test_one_allowed_outside_is_passed_over() -> None:
    """The second worst, 1130, then gives the margin: 10 N."""
    finding = found(grade(each(lower=1120, allowed_outside=ONE_ALLOWED)), series(1300, 1119, 1130))

    assert ("pass", 10, 1130) == (finding["outcome"], finding["margin"], finding["measured"]["value"])
    assert (1, 1) == (finding["measured"]["outside"], finding["measured"]["allowed"])
    assert "within" == finding["reasons"][0]["code"]
    assert (
        "1 of 3 readings of breaking force is outside the limits, and 1 may be; the second lowest, 1130 N, is 10 N "
        "above the lower limit of 1120 N."
    ) == finding["reasons"][0]["text"]


def test_two_outside_where_one_is_allowed_fail() -> None:
    """The second worst is 1110: 10 N short, on whichever side the worst lies."""
    finding = found(grade(each(lower=1120, upper=1500, allowed_outside=ONE_ALLOWED)), series(1300, 1600, 1110))

    assert ("fail", -10, 1110) == (finding["outcome"], finding["margin"], finding["measured"]["value"])
    assert (
        "2 of 3 readings of breaking force are outside the limits, and 1 may be; the second worst, 1110 N, is 10 N "
        "below the lower limit of 1120 N."
    ) == finding["reasons"][0]["text"]
    assert "/requirements/0/allowed_outside" == finding["reasons"][0]["rule"]
    assert ["/series/0/values/1", "/series/0/values/2"] == finding["reasons"][0]["at"]


@pytest.mark.parametrize(
    ("readings", "outside", "outcome"), [(9, 1, "fail"), (10, 1, "pass"), (19, 2, "fail"), (20, 2, "pass")]
)
def test_a_percentage_allowed_is_rounded_down(readings: int, outside: int, outcome: str) -> None:
    """10 % of 9 readings are none, of 10 one, of 19 one, of 20 two."""
    column = [1000.0] * outside + [1200.0] * (readings - outside)
    finding = found(grade(each(lower=1120, allowed_outside={"percent": 10})), series(*column))

    assert outcome == finding["outcome"]


def test_a_percentage_of_decimals_is_exact() -> None:
    """0.7 % of 1000 are 7; in floats 0.7 / 100 × 1000 is a little less."""
    column = [1000.0] * 7 + [1200.0] * 993

    assert 7 == found(grade(each(lower=1120, allowed_outside={"percent": 0.7})), series(*column))["measured"]["allowed"]


def test_where_all_may_be_outside_there_is_no_margin() -> None:
    """No value can make it fail, so none is the decisive one."""
    finding = found(grade(each(lower=1120, allowed_outside={"count": 2})), series(1, 2))

    assert "pass" == finding["outcome"]
    assert "margin" not in finding
    assert "value" not in finding["measured"]
    assert "2 of 2 readings of breaking force are outside the limits, and 2 may be." == finding["reasons"][0]["text"]


def test_a_reading_beyond_the_outer_limit_fails_though_it_is_allowed_outside() -> None:
    """One weak place may be, but not one as weak as 979 N."""
    finding = found(grade(each(lower=1120, allowed_outside=ONE_ALLOWED, outer={"lower": 980})), series(1300, 979))

    assert ("fail", -1, 979) == (finding["outcome"], finding["margin"], finding["measured"]["value"])
    assert {"lower": 1120, "outer": {"lower": 980}, "unit": "N"} == finding["limits"]
    assert [
        {
            "code": "beyond-outer",
            "text": (
                "1 of 2 readings of breaking force is beyond the outer limits, and none may be; the lowest, 979 N, "
                "is 1 N below the lower outer limit of 980 N."
            ),
            "with": {"beyond": 1, "value": 979, "limit": 980, "unit": "N", "by": 1},
            "rule": "/requirements/0/outer/lower",
            "at": ["/series/0/values/1"],
            "at_total": 1,
        }
    ] == finding["reasons"]


def test_too_many_outside_and_one_beyond_are_told_both() -> None:
    """Margin: the second worst, 1100, is 20 short of 1120; the worst, 970, is 10 short of 980. The smaller is −20."""
    finding = found(grade(each(lower=1120, allowed_outside=ONE_ALLOWED, outer={"lower": 980})), series(970, 1100, 1300))

    assert ["too-many-outside", "beyond-outer"] == [reason["code"] for reason in finding["reasons"]]
    assert (-20, 1100) == (finding["margin"], finding["measured"]["value"])


def test_the_outer_limit_can_give_the_margin_of_a_pass() -> None:
    """The second worst is 180 N inside 1120, the worst only 5 N inside 980."""
    finding = found(grade(each(lower=1120, allowed_outside=ONE_ALLOWED, outer={"lower": 980})), series(985, 1300))

    assert ("pass", 5, 985) == (finding["outcome"], finding["margin"], finding["measured"]["value"])
    assert finding["reasons"][0]["text"].endswith("the lowest, 985 N, is 5 N above the lower outer limit of 980 N.")
    assert "/requirements/0/outer/lower" == finding["reasons"][0]["rule"]


def test_a_reading_on_the_outer_limit_is_not_beyond() -> None:
    """Outer limits are inclusive too."""
    specification = grade(each(lower=1120, allowed_outside=ONE_ALLOWED, outer={"lower": 980}))

    assert ("pass", 0) == tuple(found(specification, series(980, 1300))[name] for name in ("outcome", "margin"))


def test_each_over_packages_judges_their_means() -> None:
    """b1 has (1200 + 1340) / 2 = 1270 and b2 1250: the mean of b2 is 10 N short of 1260, and both its readings are shown."""
    column = series(1200, 1240, 1340, 1260, packages=["b1", "b2", "b1", "b2"])
    finding = found(grade(each(lower=1260, over="packages")), column)

    assert ("fail", -10) == (finding["outcome"], finding["margin"])
    assert {
        "statistic": "package_mean",
        "value": 1250,
        "unit": "N",
        "readings": 4,
        "packages": 2,
        "outside": 1,
        "allowed": 0,
    } == finding["measured"]
    assert ["/series/0/values/1", "/series/0/values/3"] == finding["reasons"][0]["at"]
    assert "1 of 2 package means of breaking force is outside the limits" in finding["reasons"][0]["text"]


def test_a_package_is_the_same_in_every_series() -> None:
    """b1 was broken on two machines: (1 kN + 1500 N) / 2 = 1250 N."""
    finding = found(
        grade(each(lower=1250, over="packages")),
        series(1, unit="kN", packages=["b1"]),
        series(1500, packages=["b1"]),
    )

    assert ("pass", 1250, 1) == (finding["outcome"], finding["measured"]["value"], finding["measured"]["packages"])


def test_readings_without_a_package_are_packages_of_their_own() -> None:
    """Two unnamed readings are two packages beside the one that has a name."""
    finding = found(grade(each(lower=1250, over="packages")), series(1300, 1400), series(1300, 1300, packages=["b1", "b1"]))

    assert (4, 3) == (finding["measured"]["readings"], finding["measured"]["packages"])


@pytest.mark.parametrize(("ties", "outcome", "value"), [("even", "pass", 42), ("away", "fail", 43)])
def test_each_value_is_rounded_as_the_grade_says(ties: str, outcome: str, value: float) -> None:
    """42.5 turn/m lies half-way; the value before rounding stays to be seen."""
    rounding = {"step": 1, "ties": ties}
    finding = found(grade(each(lower=36, upper=42, rounding=rounding), of=TWIST), series(40, 42.5, of=TWIST))

    assert (outcome, value, 42.5) == (finding["outcome"], finding["measured"]["value"], finding["measured"]["observed"])
    assert f"rounded to {value} turn/m" in finding["reasons"][0]["text"]


@pytest.mark.parametrize(("allowed", "observed"), [(0, 34.6), (1, 35.2), (2, 43.4), (3, 42.6), (4, 38)])
def test_of_values_that_round_alike_the_one_that_decides_is_told(allowed: int, observed: float) -> None:
    """34.6 and 35.2 round to 35, 42.6 and 43.4 to 43: all 1 outside of 36 to 42, the lower first, the farther observed first.

    Among those rounded to 43, 43.4 lies farther outside before rounding, so it comes before 42.6; 38 alone is inside.
    """
    requirement = each(lower=36, upper=42, rounding={"step": 1, "ties": "even"}, allowed_outside={"count": allowed})
    finding = found(grade(requirement, of=TWIST), series(42.6, 38, 34.6, 43.4, 35.2, of=TWIST))

    assert observed == finding["measured"]["observed"]


def test_the_outer_limit_sees_the_rounded_value_too() -> None:
    """979.6 N rounds to 980 N, which is on the outer limit."""
    requirement = each(lower=1120, allowed_outside=ONE_ALLOWED, outer={"lower": 980}, rounding={"step": 1, "ties": "even"})
    finding = found(grade(requirement), series(979.6, 1300))

    assert ("pass", 980, 979.6) == (finding["outcome"], finding["measured"]["value"], finding["measured"]["observed"])


def test_a_step_may_be_a_fraction() -> None:
    """To 0.5 turn/m, 35.8 is 36.0; 35.74 is 35.5."""
    specification = grade(each(lower=36, rounding={"step": 0.5, "ties": "even"}), of=TWIST)

    assert ("pass", 36) == _outcome_and_value(found(specification, series(35.8, of=TWIST)))
    assert ("fail", 35.5) == _outcome_and_value(found(specification, series(35.74, of=TWIST)))


def _outcome_and_value(finding: Document) -> tuple[str, float]:
    return finding["outcome"], finding["measured"]["value"]


EARLY = [
    ({}, [1100], "fail"),
    ({}, [1300], "undecided"),
    ({"allowed_outside": {"count": 1}}, [1100], "undecided"),
    ({"allowed_outside": {"count": 1}}, [1100, 1100], "fail"),
    ({"allowed_outside": {"percent": 0}}, [1100, 1100], "undecided"),
    ({"allowed_outside": {"percent": 50}, "outer": {"lower": 980}}, [979], "fail"),
    ({"over": "packages"}, [900], "undecided"),
    ({"over": "packages", "outer": {"lower": 980}}, [900], "undecided"),
]


@pytest.mark.parametrize(("members", "readings", "outcome"), EARLY)
def test_it_fails_early_only_where_no_further_reading_could_save_it(
    members: Document, readings: list[float], outcome: str
) -> None:
    """A package's mean can still rise and a percentage can still allow more; a count outside cannot become less."""
    finding = found(grade(each(lower=1120, **members), of=sampled(FORCE, 5, 2)), series(*readings))

    assert outcome == finding["outcome"]
    assert ("missing" in finding) == (outcome == "undecided")


def test_an_early_fail_by_outer_does_not_speak_of_the_percentage() -> None:
    """How many a percentage allows is known only when the sample is complete."""
    requirement = each(lower=1120, allowed_outside={"percent": 10}, outer={"lower": 980})
    finding = found(grade(requirement, of=sampled(FORCE, 5)), series(979, 1100))

    assert ["beyond-outer"] == [reason["code"] for reason in finding["reasons"]]


def test_it_fails_early_where_the_size_of_the_lot_is_not_told() -> None:
    """However large the lot is, the bad reading stays in it."""
    sample = {"plan": "percent", "percent": 10}

    assert "fail" == found(grade(each(lower=1120, sample=sample)), series(1100))["outcome"]


def test_no_more_than_twenty_places_are_pointed_to() -> None:
    """The first 20 in the order of the document, and how many there are: 2 in one series, 25 in the next."""
    finding = found(grade(each(lower=1120)), series(1, 1200, 2), series(*range(1, 26)))

    assert (20, 27) == (len(finding["reasons"][0]["at"]), finding["reasons"][0]["at_total"])
    assert ["/series/0/values/0", "/series/0/values/2", "/series/1/values/0"] == finding["reasons"][0]["at"][:3]
    assert "/series/1/values/17" == finding["reasons"][0]["at"][-1]


def test_the_places_of_a_ratio_are_the_first_twenty_of_both_sides() -> None:
    """15 pairs, the straight ones sent first and backwards: all 15 of series 0, then the first 5 of series 1, of 30."""
    names = [f"b{number}" for number in range(15)]
    straight = series(*[1000] * 15, packages=names[::-1])
    knots = [series(*[500] * 8, of=KNOT_FORCE, packages=names[:8]), series(*[500] * 7, of=KNOT_FORCE, packages=names[8:])]
    finding = found(grade(each(lower=55), of=[EFFICIENCY, FORCE, KNOT_FORCE]), straight, *knots)

    assert 30 == finding["reasons"][0]["at_total"]
    assert [f"/series/0/values/{place}" for place in range(15)] == finding["reasons"][0]["at"][:15]
    assert [f"/series/1/values/{place}" for place in range(5)] == finding["reasons"][0]["at"][15:]


RATIO = grade(each(lower=55), of=[EFFICIENCY, FORCE, KNOT_FORCE])


def test_a_ratio_is_paired_by_package_in_the_order_sent() -> None:
    """b1: 600/1000 and 500/1000; b2: 660/1200 = 55 %. Unsorted packages find their partners; 50 % fails."""
    evidence = lot(
        series(1000, 1200, 1000, packages=["b1", "b2", "b1"]),
        series(660, 600, 500, of=KNOT_FORCE, packages=["b2", "b1", "b1"]),
    )
    finding = judged(RATIO, evidence)["findings"][0]

    assert ("fail", 50, -5) == (finding["outcome"], finding["measured"]["value"], finding["margin"])
    assert ["/series/0/values/2", "/series/1/values/2"] == finding["reasons"][0]["at"]
    assert (3, 2) == (finding["measured"]["readings"], finding["measured"]["packages"])


def test_unnamed_readings_are_paired_in_their_running_order() -> None:
    """Two series of knots and one of straight ones: 550/1000, 600/1000, 660/1200 are 55, 60 and 55 %."""
    finding = found(RATIO, series(550, of=KNOT_FORCE), series(1000, 1000, 1200), series(600, 660, of=KNOT_FORCE))

    assert ("pass", 55, 0, 3) == (
        finding["outcome"],
        finding["measured"]["value"],
        finding["margin"],
        finding["measured"]["readings"],
    )
    assert ["/series/0", "/series/1", "/series/2"] == finding["reasons"][0]["at"]


def test_a_ratio_counts_its_units() -> None:
    """0.6 kN by 1000 N is 60 %."""
    finding = found(RATIO, series(1000), series(0.6, of=KNOT_FORCE, unit="kN"))

    assert ("pass", 60) == (finding["outcome"], finding["measured"]["value"])


def test_a_ratio_with_one_side_absent_is_undecided() -> None:
    """A quotient of nothing is nothing; the other side is asked for."""
    finding = found(RATIO, series(1000, 1100))

    assert "undecided" == finding["outcome"]
    assert [
        {
            "code": "no-partner",
            "text": (
                "No reading of knot breaking force is given, and knot efficiency is calculated from it and "
                "breaking force. Measure it too."
            ),
            "with": {"absent": "knot_breaking_force", "present": "breaking_force"},
            "rule": "/characteristics/0/derived",
            "at": ["/series/0"],
            "at_total": 1,
        }
    ] == finding["reasons"]
    assert [{"characteristic": "knot_breaking_force", "packages": 1, "readings": 1}] == finding["missing"]


def test_a_ratio_waits_for_the_samples_of_both_sides() -> None:
    """2 of 3 pairs are in: one more of each."""
    specification = grade(each(lower=55), of=[EFFICIENCY, sampled(FORCE, 3), sampled(KNOT_FORCE, 3)])
    finding = found(specification, series(1000, 1000), series(600, 600, of=KNOT_FORCE))

    assert [
        {"characteristic": "knot_breaking_force", "packages": 1, "readings": 1},
        {"characteristic": "breaking_force", "packages": 1, "readings": 1},
    ] == finding["missing"]
    assert ("Still to measure: knot breaking force on 1 more package and breaking force on 1 more package.") == finding[
        "reasons"
    ][0]["text"]


def test_a_ratio_fails_early_too() -> None:
    """50 % stays 50 % whatever else is pulled."""
    specification = grade(each(lower=55), of=[EFFICIENCY, sampled(FORCE, 3), sampled(KNOT_FORCE, 3)])

    assert "fail" == found(specification, series(1000), series(500, of=KNOT_FORCE))["outcome"]


def test_the_rule_of_a_missing_reading_is_the_sample_that_lacks_it() -> None:
    """The straight specimens are all in; the knots are asked for by their own sample, the third characteristic's."""
    specification = grade(each(lower=55), of=[EFFICIENCY, FORCE, sampled(KNOT_FORCE, 2)])
    also_sampled = grade(each(lower=55), of=[{**EFFICIENCY}, sampled(KNOT_FORCE, 1), sampled(FORCE, 2)])

    assert "/characteristics/2/sample" == _rule(found(specification, series(1000), series(600, of=KNOT_FORCE)))
    assert "/characteristics/2/sample" == _rule(found(also_sampled, series(1000), series(600, of=KNOT_FORCE)))


def _rule(finding: Document) -> str:
    rule: str = finding["reasons"][0]["rule"]
    return rule


def test_a_requirement_s_own_sample_stands_before_the_characteristic_s() -> None:
    """The clause on weak places may ask for more specimens than the one on the mean, or for fewer."""
    specification = grade(each(lower=1120, sample=fixed(2)), each(lower=1120), of=sampled(FORCE, 5))
    findings = judged(specification, lot(series(1200, 1200)))["findings"]

    assert ["pass", "undecided"] == [finding["outcome"] for finding in findings]
    assert "/characteristics/0/sample" == findings[1]["reasons"][0]["rule"]


def test_reciprocal_readings_keep_their_side() -> None:
    """7700 tex is 129.87 m/kg: above 125, though 7700 is below 8000. Limits never change side by themselves."""
    finding = found(grade(each(lower=125), of=RUNNAGE), series(7700, 8000, of=RUNNAGE, unit="tex"))

    assert ("pass", 125, 0) == (finding["outcome"], finding["measured"]["value"], finding["margin"])
