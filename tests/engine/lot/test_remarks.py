"""Remarks beside readings: what a grade does with them; values worked by hand."""

import pytest

from tests.support.grades import (
    EFFICIENCY,
    ELONGATION,
    FORCE,
    KNOT_FORCE,
    RUNNAGE,
    TWIST,
    Document,
    each,
    fixed,
    grade,
    lot,
    mean,
    sampled,
    series,
    spread,
    variables,
)
from tests.support.judging import flaws_in, flaws_of, found, judged

SLIPS: Document = {**FORCE, "remarks": {"leave_out": ["slipped", "broke_at_clamp"]}}
MARKS: Document = {**FORCE, "remarks": {"passes_outside_marks_at": {"percent": 90}}}


def remarked(column: Document, *remarks: str) -> Document:
    """The series with these remarks beside its values."""
    return {**column, "remarks": list(remarks)}


def test_a_struck_reading_moves_no_mean() -> None:
    """The operator has struck what he mistyped: (1400 + 1420) / 2 = 1410."""
    finding = found(grade(mean(lower=1400)), remarked(series(1400, 14, 1420), "", "struck", ""))

    assert ("pass", 1410, 10) == (finding["outcome"], finding["measured"]["value"], finding["margin"])
    assert 2 == finding["measured"]["readings"]


def test_a_struck_reading_is_asked_for_again() -> None:
    """Three balls are to be tested, and one of the three readings no longer stands."""
    finding = found(grade(mean(lower=1), of=sampled(FORCE, 3)), remarked(series(2, 3, 4), "", "", "struck"))

    assert "undecided" == finding["outcome"]
    assert [{"characteristic": "breaking_force", "packages": 1, "readings": 1}] == finding["missing"]


def test_pointers_keep_the_places_of_a_series_with_struck_readings() -> None:
    """Whoever looks for the bad reading finds it where it was sent."""
    finding = found(grade(each(lower=10)), remarked(series(1, 12, 9, 13), "struck", "", "", ""))

    assert "fail" == finding["outcome"]
    assert ["/series/0/values/2"] == finding["reasons"][0]["at"]


@pytest.mark.parametrize("value", [-5, 0, 1e300])
def test_what_is_wrong_with_a_struck_reading_is_no_flaw(value: float) -> None:
    """It was struck since it cannot be right: a minus sign, a zero in tex, a number of another field."""
    evidence = lot(remarked(series(value, 8000, of=RUNNAGE, unit="tex"), "struck", ""))

    assert "pass" == judged(grade(mean(lower=125), of=RUNNAGE), evidence)["outcome"]


def test_a_lot_whose_readings_are_all_struck_has_none() -> None:
    """Nothing stands, so nothing is said."""
    finding = found(grade(mean(lower=1)), remarked(series(2, 3), "struck", "struck"))

    assert "undecided" == finding["outcome"]
    assert "readings-missing" == finding["reasons"][0]["code"]


def test_a_confirmed_reading_counts_like_any_other() -> None:
    """(2 + 4) / 2 = 3."""
    assert 3 == found(grade(mean(lower=1)), remarked(series(2, 4), "confirmed", ""))["measured"]["value"]


def test_a_remark_that_the_grade_leaves_out_takes_the_reading_out_and_asks_for_another() -> None:
    """A specimen that slipped tells nothing of the twine; the plan's three are wanted all the same."""
    of = sampled(SLIPS, 3)
    short = found(grade(mean(lower=10), of=of), remarked(series(12, 3, 14), "", "slipped", ""))
    complete = found(grade(mean(lower=10), of=of), remarked(series(12, 3, 14), "", "slipped", ""), series(16))

    assert "undecided" == short["outcome"]
    assert [{"characteristic": "breaking_force", "packages": 1, "readings": 1}] == short["missing"]
    assert ("pass", 14, 4) == (complete["outcome"], complete["measured"]["value"], complete["margin"])


@pytest.mark.parametrize(
    "requirement",
    [mean(lower=1), each(lower=1), spread("range", 100), variables(0, lower=1), mean(lower=1, over="packages")],
)
def test_a_remark_without_a_rule_leaves_every_kind_undecided(requirement: Document) -> None:
    """Whether a break at the splice counts is for the grade to say, not for the service to guess."""
    finding = found(grade(requirement, of=SLIPS), remarked(series(5, 6, 7), "", "broke_at_splice", ""))

    assert "undecided" == finding["outcome"]
    assert [
        {
            "code": "remark-without-rule",
            "text": (
                "1 reading of breaking force is remarked `broke_at_splice`, and the grade has no rule on that. "
                "Add one in `remarks` of the characteristic, or strike the reading."
            ),
            "with": {"remarks": ["broke_at_splice"], "readings": 1},
            "rule": "/characteristics/0",
            "at": ["/series/0/values/1"],
            "at_total": 1,
        }
    ] == finding["reasons"]


def test_a_remark_without_a_rule_does_not_let_a_bad_lot_fail_either() -> None:
    """A reading outside that may not count is no reason to refuse the lot."""
    finding = found(grade(each(lower=10)), remarked(series(5, 12), "machine_limit", ""))

    assert "undecided" == finding["outcome"]


def test_a_remark_without_a_rule_reaches_what_is_derived() -> None:
    """A knot efficiency is no better known than the breaking force that it is of."""
    specification = grade(mean(lower=1), of=[EFFICIENCY, KNOT_FORCE, FORCE])
    finding = found(specification, series(60, of=KNOT_FORCE), remarked(series(100), "slipped"))

    assert ("undecided", "remark-without-rule") == (finding["outcome"], finding["reasons"][0]["code"])


def test_a_remark_on_one_characteristic_leaves_the_others_alone() -> None:
    """The twist is what it is, whatever slipped in the machine."""
    specification = grade(mean(lower=1), mean(lower=1, of="twist"), of=[FORCE, TWIST])
    verdict = judged(specification, lot(remarked(series(5), "slipped"), series(40, of=TWIST)))

    assert ["undecided", "pass"] == [finding["outcome"] for finding in verdict["findings"]]


def test_a_break_outside_the_marks_passes_at_its_share_of_the_limit() -> None:
    """91 kN is above 90 % of 100 kN. Source: ISO 2307:2010, 9.7.2 (SEEN)."""
    finding = found(grade(each(lower=100), of=MARKS), remarked(series(91, 104), "broke_outside_marks", ""))

    assert ("pass", 1) == (finding["outcome"], finding["margin"])
    assert {
        "statistic": "reading",
        "value": 91,
        "unit": "N",
        "readings": 2,
        "packages": 2,
        "outside": 0,
        "allowed": 0,
    } == finding["measured"]
    assert (
        "All 2 readings of breaking force are within the limits; the worst, 91 N, is 1 N above the 90 N that a break "
        "outside the marks must reach."
    ) == finding["reasons"][0]["text"]
    assert "/characteristics/0/remarks/passes_outside_marks_at" == finding["reasons"][0]["rule"]


def test_a_break_outside_the_marks_on_its_share_passes_and_below_it_fails() -> None:
    """90 N is 90 % of 100 N; 89.9 N is not."""
    on_it = found(grade(each(lower=100), of=MARKS), remarked(series(90), "broke_outside_marks"))
    below = found(grade(each(lower=100), of=MARKS), remarked(series(89.9, 120), "broke_outside_marks", ""))

    assert ("pass", 0) == (on_it["outcome"], on_it["margin"])
    assert ("fail", -0.1) == (below["outcome"], below["margin"])
    assert "too-many-outside" == below["reasons"][0]["code"]
    assert ["/series/0/values/0"] == below["reasons"][0]["at"]
    assert (
        "1 of 2 readings of breaking force is outside the limits, and none may be; the worst, 89.9 N, is 0.1 N below the 90 N "
        "that a break outside the marks must reach."
    ) == below["reasons"][0]["text"]


def test_between_the_marks_the_whole_limit_holds() -> None:
    """91 N is enough outside the marks and not between them."""
    finding = found(grade(each(lower=100), of=MARKS), remarked(series(91, 91), "broke_outside_marks", ""))

    assert ("fail", -9) == (finding["outcome"], finding["margin"])
    assert ["/series/0/values/1"] == finding["reasons"][0]["at"]


def test_the_allowed_ones_are_the_worst_of_both_together() -> None:
    """Of the margins −9 (91 between the marks), 1 (91 outside them) and 20 one may be outside, so the second decides."""
    finding = found(
        grade(each(lower=100, allowed_outside={"count": 1}), of=MARKS),
        remarked(series(91, 91, 120), "broke_outside_marks", "", ""),
    )

    assert ("pass", 1, 1) == (finding["outcome"], finding["margin"], finding["measured"]["outside"])


def test_all_may_be_outside_and_no_margin_is_told() -> None:
    """100 % of one reading is one."""
    finding = found(
        grade(each(lower=100, allowed_outside={"percent": 100}), of=MARKS), remarked(series(5), "broke_outside_marks")
    )

    assert "pass" == finding["outcome"]
    assert "margin" not in finding


def test_the_outer_limit_has_its_share_too() -> None:
    """The outer limit of 80 N is 72 N outside the marks: 72 is on it, 71 beyond it."""
    requirement = each(lower=100, outer={"lower": 80}, allowed_outside={"count": 2})
    on_it = found(grade(requirement, of=MARKS), remarked(series(72), "broke_outside_marks"))
    beyond = found(grade(requirement, of=MARKS), remarked(series(71), "broke_outside_marks"))

    assert ("pass", 0) == (on_it["outcome"], on_it["margin"])
    assert ("fail", -1) == (beyond["outcome"], beyond["margin"])
    assert "beyond-outer" == beyond["reasons"][0]["code"]


def test_a_break_outside_the_marks_is_rounded_before_it_is_compared() -> None:
    """89.6 N is 90 N to the nearest newton."""
    finding = found(
        grade(each(lower=100, rounding={"step": 1, "ties": "even"}), of=MARKS), remarked(series(89.6), "broke_outside_marks")
    )

    assert ("pass", 0) == (finding["outcome"], finding["margin"])
    assert (90, 89.6) == (finding["measured"]["value"], finding["measured"]["observed"])


def test_a_break_outside_the_marks_counts_for_each_and_not_for_the_mean() -> None:
    """Its true force is not known: the mean of three wants another one, each has its three."""
    specification = grade(each(lower=100), mean(lower=100), spread("range", 50), of=sampled(MARKS, 3))
    evidence = lot(remarked(series(91, 104, 106), "broke_outside_marks", "", ""))
    of_each, of_mean, of_spread = judged(specification, evidence)["findings"]

    assert ("pass", 3) == (of_each["outcome"], of_each["measured"]["readings"])
    assert "undecided" == of_mean["outcome"]
    assert [{"characteristic": "breaking_force", "packages": 1, "readings": 1}] == of_mean["missing"]
    assert "undecided" == of_spread["outcome"]


def test_a_break_outside_the_marks_enters_no_mean() -> None:
    """(104 + 106) / 2 = 105; with 91 it would be 100.3."""
    finding = found(grade(mean(lower=100), of=MARKS), remarked(series(91, 104, 106), "broke_outside_marks", "", ""))

    assert ("pass", 105, 2) == (finding["outcome"], finding["measured"]["value"], finding["measured"]["readings"])


def test_a_short_sample_with_a_break_outside_the_marks_is_undecided_until_it_is_lost() -> None:
    """91 N leaves it open; 89 N is lost whatever comes."""
    specification = grade(each(lower=100), of=sampled(MARKS, 3))

    assert "undecided" == found(specification, remarked(series(91), "broke_outside_marks"))["outcome"]
    assert "fail" == found(specification, remarked(series(89), "broke_outside_marks"))["outcome"]


def test_an_upper_limit_takes_the_true_force() -> None:
    """A rope that must not be too strong either is not known to be so from a break outside the marks."""
    finding = found(grade(each(lower=100, upper=150), of=MARKS), remarked(series(91), "broke_outside_marks"))

    assert ("undecided", "remark-without-rule") == (finding["outcome"], finding["reasons"][0]["code"])
    assert "/requirements/0/limits/upper" == finding["reasons"][0]["rule"]
    assert (
        "A specimen that broke outside the marks does not show its true breaking force, so it cannot be compared with "
        "the upper limit of 150 N. Strike the reading and test another specimen."
    ) == finding["reasons"][0]["text"]


def test_remarks_of_another_number_than_the_values_are_a_flaw() -> None:
    """A remark that has slipped by one place would strike the wrong reading."""
    (flaw,) = flaws_in(grade(mean(lower=1)), lot(remarked(series(1, 2, 3), "struck", "")))

    assert ("remarks-differ-in-number", "/series/0/remarks") == (flaw.code, flaw.at)
    assert (
        'The series has 3 values and 2 remarks. Give one for each value, `""` where nothing was seen, or remove `remarks`.'
    ) == flaw.text


def test_a_remark_with_two_rules_is_a_flaw() -> None:
    """Left out and passing at 90 % cannot both be meant."""
    rules = {"leave_out": ["broke_outside_marks"], "passes_outside_marks_at": {"percent": 90}}
    (flaw,) = flaws_of(grade(mean(lower=1), of={**FORCE, "remarks": rules}))

    assert ("remark-in-two-ways", "/characteristics/0/remarks/passes_outside_marks_at") == (flaw.code, flaw.at)


def test_the_rule_on_breaks_outside_the_marks_is_one_of_forces() -> None:
    """Nothing is known of a twist at a break outside the marks."""
    rules = {"passes_outside_marks_at": {"percent": 90}}
    (flaw,) = flaws_of(grade(mean(lower=1), of={**TWIST, "remarks": rules}))

    assert "outside-marks-not-force" == flaw.code


@pytest.mark.parametrize(
    ("member", "given"),
    [("plausible", {"lower": 1}), ("method", "by hand"), ("remarks", {"leave_out": ["slipped"]})],
)
def test_what_is_worked_out_takes_no_rules_on_readings(member: str, given: object) -> None:
    """There are no readings of it to be mistyped, or to slip."""
    (flaw,) = flaws_of(grade(mean(lower=1, of=FORCE["name"]), of=[{**EFFICIENCY, member: given}, KNOT_FORCE, FORCE]))

    assert ("not-of-readings", f"/characteristics/0/{member}") == (flaw.code, flaw.at)
    assert f"`{member}` is for readings, and `knot_efficiency` is calculated. Remove it." == flaw.text


def test_a_composite_specimen_counts_for_all_its_packages() -> None:
    """Two specimens, each made up of five balls, are the sample of ten; the mean is of two values."""
    column = {**series(12, 14), "packages_per_specimen": 5}
    finding = found(grade(mean(lower=10), of=sampled(FORCE, 10)), column)

    assert ("pass", 13) == (finding["outcome"], finding["measured"]["value"])
    assert (2, 10) == (finding["measured"]["readings"], finding["measured"]["packages"])


def test_a_composite_specimen_is_one_value_of_a_spread() -> None:
    """One value has no spread, however many balls it is of."""
    one = {**series(12), "packages_per_specimen": 5}
    finding = found(grade(spread("standard_deviation", 5), of=FORCE), one)
    two = found(grade(spread("range", 5, over="packages"), of=FORCE), {**series(12, 14), "packages_per_specimen": 5})

    assert ("undecided", 1) == (finding["outcome"], finding["missing"][0]["readings"])
    assert ("pass", 2) == (two["outcome"], two["measured"]["value"])


def test_composite_specimens_and_single_ones_add_up() -> None:
    """One of two balls and one of ball b1 alone: three packages, two values, (10 + 20) / 2 = 15."""
    composite = {**series(10), "packages_per_specimen": 2}
    finding = found(grade(mean(lower=1, over="packages"), of=sampled(FORCE, 3)), composite, series(20, packages=["b1"]))

    assert ("pass", 15, 3) == (finding["outcome"], finding["measured"]["value"], finding["measured"]["packages"])


def test_a_composite_specimen_does_not_give_a_package_two_readings() -> None:
    """Two readings a ball are asked for, and a composite is one of each."""
    finding = found(grade(mean(lower=1, sample=fixed(2, 2))), {**series(12, 14), "packages_per_specimen": 2})

    assert "undecided" == finding["outcome"]


def test_a_composite_specimen_of_one_package_is_a_flaw() -> None:
    """It is either of one ball or of five."""
    (flaw,) = flaws_in(grade(mean(lower=1)), lot({**series(1, packages=["b1"]), "packages_per_specimen": 5}))

    assert ("composite-of-one-package", "/series/0/packages_per_specimen") == (flaw.code, flaw.at)
    assert (
        "Each value is of a specimen made up of 5 packages, and `packages` names one for each value. Remove one of the two."
    ) == flaw.text


def test_a_limit_that_excludes_its_own_value_does_so_at_its_share() -> None:
    """More than 100 N is asked for, so exactly 90 N outside the marks is not enough."""
    finding = found(grade(each(limits={"above": 100}), of=MARKS), remarked(series(90), "broke_outside_marks"))

    assert ("fail", 0) == (finding["outcome"], finding["margin"])


def test_a_limit_that_is_worked_out_has_its_share_too() -> None:
    """80 % of the mean of 100, 100 and 101 are 80.2666… N, and 90 % of that 72.24 N: 73 is enough outside the marks, 72 not."""
    requirement = each(limits={"lower": {"percent": 80, "of_mean": "breaking_force"}})
    passing, failing = (
        found(grade(requirement, of=MARKS), remarked(series(value, 100, 100, 101), "broke_outside_marks", "", "", ""))
        for value in (73, 72)
    )

    assert ("pass", 0.76) == (passing["outcome"], passing["margin"])
    assert ("fail", -0.24) == (failing["outcome"], failing["margin"])


def test_a_limit_rests_on_no_remark_without_a_rule() -> None:
    """80 % of a mean that a slipped specimen may belong to is no limit to judge by."""
    requirement = each(limits={"lower": {"percent": 80, "of_mean": "knot_breaking_force"}})
    columns = [series(100), remarked(series(90, of=KNOT_FORCE), "slipped")]
    finding = found(grade(requirement, of=[FORCE, KNOT_FORCE]), *columns)

    assert ("undecided", "remark-without-rule") == (finding["outcome"], finding["reasons"][0]["code"])
    assert "limits" not in finding


def test_a_guarded_limit_has_its_share_as_guarded() -> None:
    """100 N guarded by 10 N is 110 N, and 90 % of that 99 N: 98 N is neither accepted nor, above 81 N, rejected."""
    decision = {"rule": "guarded_acceptance", "uncertainty": {"expanded": 10, "coverage_factor": 2}}
    accepted, between, rejected = (
        found(grade(each(lower=100, decision=decision), of=MARKS), remarked(series(value), "broke_outside_marks"))["outcome"]
        for value in (99, 98, 80.9)
    )

    assert ("pass", "undecided", "fail") == (accepted, between, rejected)


def efficiency(requirement: Document) -> Document:
    """A grade on the knot efficiency, which leaves out what slips."""
    rules = {"leave_out": ["slipped"]}
    return grade(requirement, of=[EFFICIENCY, {**KNOT_FORCE, "remarks": rules}, {**FORCE, "remarks": rules}])


def test_a_reading_that_is_left_out_takes_its_partner_with_it() -> None:
    """50/100, (60/100) and 70/100 are 50 % and 70 %, 60 % on average; the third does not move up to the second's place."""
    knots, straight = series(50, 6, 70, of=KNOT_FORCE), series(100, 1000, 100)
    finding = found(efficiency(mean(lower=60)), remarked(knots, "", "slipped", ""), straight)

    assert ("pass", 60, 2) == (finding["outcome"], finding["measured"]["value"], finding["measured"]["readings"])


def test_a_pair_is_left_out_whichever_side_of_it_is() -> None:
    """The straight specimen slipped: 1 of 3 is outside, and it stands where it was sent."""
    knots, straight = series(50, 6, 70, of=KNOT_FORCE), series(100, 1000, 100)
    finding = found(efficiency(each(lower=60)), knots, remarked(straight, "", "slipped", ""))

    assert ("fail", -10) == (finding["outcome"], finding["margin"])
    assert ["/series/0/values/0", "/series/1/values/0"] == finding["reasons"][0]["at"]


def test_pairs_are_told_by_the_places_of_the_readings_that_count() -> None:
    """The last pair is too weak, and both of its readings are named by their own places."""
    knots, straight = series(5, 60, 50, of=KNOT_FORCE), series(100, 100, 100)
    finding = found(efficiency(each(lower=60)), remarked(knots, "slipped", "", ""), straight)

    assert ["/series/0/values/2", "/series/1/values/2"] == finding["reasons"][0]["at"]


def test_a_struck_reading_has_no_partner() -> None:
    """It is as if not sent: 50/100 and 70/100; were it paired, the numbers would not agree."""
    knots = remarked(series(50, 999, 70, of=KNOT_FORCE), "", "struck", "")

    assert 60 == found(efficiency(mean(lower=1)), knots, series(100, 100))["measured"]["value"]


def test_a_slipped_reading_still_wants_its_partner_sent() -> None:
    """Three knots and two straight breaks: which of them belong together nobody can say."""
    knots = remarked(series(50, 6, 70, of=KNOT_FORCE), "", "slipped", "")
    (flaw,) = flaws_in(efficiency(mean(lower=1)), lot(knots, series(100, 100)))

    assert ("reading-without-partner", "/series/0/values/2") == (flaw.code, flaw.at)


def test_a_pair_that_is_left_out_is_asked_for_again_on_both_sides() -> None:
    """Two pairs are wanted; of the second pair only one reading counts."""
    rules = {"leave_out": ["slipped"]}
    characteristics = [EFFICIENCY, sampled({**KNOT_FORCE, "remarks": rules}, 2), sampled(FORCE, 2)]
    columns = [remarked(series(50, 6, of=KNOT_FORCE), "", "slipped"), series(100, 100)]
    finding = found(grade(mean(lower=1), of=characteristics), *columns)

    assert "undecided" == finding["outcome"]
    assert [
        {"characteristic": "knot_breaking_force", "packages": 1, "readings": 1},
        {"characteristic": "breaking_force", "packages": 1, "readings": 1},
    ] == finding["missing"]


def test_two_halves_of_pairs_make_no_pair() -> None:
    """Of the first pair the knot slipped, of the second the straight specimen: nothing is left, and nothing is judged."""
    columns = [remarked(series(50, 60, of=KNOT_FORCE), "slipped", ""), remarked(series(100, 100), "", "slipped")]
    verdicts = [found(efficiency(requirement), *columns) for requirement in (mean(lower=1), each(lower=1), spread("range", 1))]

    assert ["readings-missing"] * 3 == [finding["reasons"][0]["code"] for finding in verdicts]


def test_one_pair_has_no_spread_though_each_side_has_two() -> None:
    """A standard deviation takes two values, and one pair of two is left out."""
    columns = [remarked(series(50, 60, of=KNOT_FORCE), "slipped", ""), series(100, 100)]
    finding = found(efficiency(spread("standard_deviation", 1)), *columns)

    assert ("undecided", "readings-missing") == (finding["outcome"], finding["reasons"][0]["code"])


def test_a_zero_that_is_left_out_divides_nothing() -> None:
    """A specimen that slipped at once shows 0 N."""
    columns = [series(50, 60, of=KNOT_FORCE), remarked(series(100, 0), "", "slipped")]

    assert 50 == found(efficiency(mean(lower=1)), *columns)["measured"]["value"]


def test_a_limit_is_no_share_of_the_mean_of_no_pairs() -> None:
    """No pair is left of the knot efficiency, so no limit comes of its mean."""
    columns = [remarked(series(50, 60, of=KNOT_FORCE), "slipped", ""), remarked(series(100, 100), "", "slipped")]
    requirement = each(of="elongation_at_break", limits={"lower": {"percent": 80, "of_mean": "knot_efficiency"}})
    specification = efficiency(requirement)
    specification["characteristics"].append(ELONGATION)
    finding = found(specification, *columns, series(5, of=ELONGATION))

    assert ("undecided", "limit-not-known") == (finding["outcome"], finding["reasons"][0]["code"])


def test_a_tare_that_is_left_out_takes_its_package_with_it() -> None:
    """9.2 − 0.2 and 9.4 − 0.2 kg are 9.1 on average; the second ball was weighed in a core that slipped off the scale."""
    derived = {"kind": "net_of_tare", "gross": "gross_mass", "tare": {"per_package": "tare_mass"}}
    net: Document = {"name": "net_mass", "unit": "kg", "derived": derived}
    gross, tare = {"name": "gross_mass", "unit": "kg"}, {"name": "tare_mass", "unit": "kg"}
    of = [net, gross, {**tare, "remarks": {"leave_out": ["slipped"]}}]
    columns = [series(9.2, 9, 9.4, of=gross), remarked(series(0.2, 90, 0.2, of=tare), "", "slipped", "")]
    finding = found(grade(mean(lower=9), of=of), *columns)

    assert ("pass", 9.1, 2) == (finding["outcome"], finding["measured"]["value"], finding["measured"]["readings"])


def test_a_column_of_empty_remarks_says_nothing() -> None:
    """A station may send the column whether or not anything was seen."""
    plain, empty = series(12, 14), remarked(series(12, 14), "", "")

    assert found(grade(mean(lower=13)), plain) == found(grade(mean(lower=13)), empty)
