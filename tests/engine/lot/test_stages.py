"""Second samples: when a retest is allowed, what it decides, and what is refused because nobody called for it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.engine.documents import Flaw
from tests.support.counted import attributes, code_of, count, finding_on, look_grade, looked_over
from tests.support.grades import (
    EFFICIENCY,
    FORCE,
    KNOT_FORCE,
    POOLED_EFFICIENCY,
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


def retest(packages: int, judge: str = "second", **members: object) -> Document:
    """A retest of so many packages."""
    return {"sample": fixed(packages), "judge": judge, **members}


def second(*values: float, of: Document = FORCE, **members: object) -> Document:
    """A series of the second stage."""
    return {**series(*values, of=of), "stage": 2, **members}


def codes(finding: Document) -> list[str]:
    """The codes of a finding's reasons."""
    return [reason["code"] for reason in finding["reasons"]]


MEAN = grade(mean(lower=100, retest=retest(4)), of=sampled(FORCE, 2))
TOGETHER = grade(mean(lower=100, retest=retest(4, "together")), of=sampled(FORCE, 2))


def test_a_failed_first_sample_says_what_to_draw_for_the_retest() -> None:
    """The lot has failed, and the seller may still draw twice as many."""
    finding = found(MEAN, series(98, 99))

    assert ("fail", ["below-lower", "retest-allowed"]) == (finding["outcome"], codes(finding))
    assert {
        "code": "retest-allowed",
        "text": (
            "A retest is allowed, in which the second sample decides alone. "
            "Draw 4 packages, 1 reading each, and send them as `stage` 2."
        ),
        "with": {"judge": "second", "packages": 4, "readings_per_package": 1},
        "rule": "/requirements/0/retest",
        "at": [],
        "at_total": 0,
    } == finding["reasons"][1]


def test_a_passed_first_sample_says_nothing_of_a_retest() -> None:
    """There is nothing to draw."""
    assert ["within"] == codes(found(MEAN, series(100, 101)))


def test_the_second_sample_decides_alone_where_the_grade_says_so() -> None:
    """98.5 N before counts no more; the mean of 100, 101, 102 and 101 N is 101 N."""
    finding = found(MEAN, series(98, 99), second(100, 101, 102, 101))

    assert ("pass", ["retested", "within"]) == (finding["outcome"], codes(finding))
    assert (101, 4) == (finding["measured"]["value"], finding["measured"]["readings"])
    assert ["/series/1"] == finding["reasons"][1]["at"]
    assert {
        "code": "retested",
        "text": "The first sample failed, and the second sample decides alone.",
        "with": {"judge": "second"},
        "rule": "/requirements/0/retest",
        "at": ["/series/0"],
        "at_total": 1,
    } == finding["reasons"][0]


def test_both_samples_decide_together_where_the_grade_says_so() -> None:
    """(98 + 99 + 101 + 101 + 101 + 100) / 6 = 100 N, exactly on the limit; 99 instead of 100 at the end is too little."""
    finding = found(TOGETHER, series(98, 99), second(101, 101, 101, 100))

    assert ("pass", 100, 6) == (finding["outcome"], finding["measured"]["value"], finding["measured"]["readings"])
    assert ["/series/0", "/series/1"] == finding["reasons"][1]["at"]
    assert "fail" == found(TOGETHER, series(98, 99), second(101, 101, 101, 99))["outcome"]


def test_a_failed_retest_allows_no_other() -> None:
    """There is one retest."""
    finding = found(MEAN, series(98, 99), second(98, 98, 98, 98))

    assert ("fail", ["retested", "below-lower"]) == (finding["outcome"], codes(finding))


@pytest.mark.parametrize(("specification", "packages"), [(MEAN, 1), (TOGETHER, 1)])
def test_a_retest_that_is_short_is_undecided(specification: Document, packages: int) -> None:
    """Three of the four are in: one more is asked for, and nothing passes before."""
    finding = found(specification, series(98, 99), second(110, 110, 110))

    assert ("undecided", ["retested", "readings-missing"]) == (finding["outcome"], codes(finding))
    assert [{"characteristic": "breaking_force", "packages": packages, "readings": 1}] == finding["missing"]
    assert "/requirements/0/retest/sample" == finding["reasons"][1]["rule"]


def test_every_measured_kind_can_be_retested() -> None:
    """One weak reading, one wide range, one low quality statistic: each may be bad luck."""
    specification = grade(
        each(lower=95, retest=retest(2)),
        spread("range", 3, retest=retest(2)),
        variables(2, lower=95, retest=retest(2)),
        of=sampled(FORCE, 2),
    )
    first = judged(specification, lot(series(94, 99)))["findings"]
    both = judged(specification, lot(series(94, 99), second(100, 101)))["findings"]

    assert [
        ["too-many-outside", "retest-allowed"],
        ["above-at-most", "retest-allowed"],
        ["quality-below-k", "retest-allowed"],
    ] == [codes(finding) for finding in first]
    assert ["pass"] * 3 == [finding["outcome"] for finding in both]


def test_requirements_that_passed_keep_their_first_sample() -> None:
    """Only the mean called for more; a weak one among the four changes nothing for what the first two have passed."""
    specification = grade(mean(lower=100, retest=retest(4)), each(lower=90, retest=retest(4)), of=sampled(FORCE, 2))
    findings = judged(specification, lot(series(98, 99), second(80, 120, 120, 120)))["findings"]

    assert [("pass", 4), ("pass", 2)] == [(finding["outcome"], finding["measured"]["readings"]) for finding in findings]


def test_a_requirement_without_a_retest_stays_failed() -> None:
    """The grade allows a retest of the mean alone."""
    specification = grade(mean(lower=100, retest=retest(4)), each(lower=99), of=sampled(FORCE, 2))
    findings = judged(specification, lot(series(98, 99), second(100, 101, 102, 101)))["findings"]

    assert ["pass", "fail"] == [finding["outcome"] for finding in findings]


@pytest.mark.parametrize(
    ("specification", "text", "rule"),
    [
        (
            MEAN,
            "The first sample has decided on `breaking_force`, so no second sample is needed. Remove it.",
            "/requirements/0",
        ),
        (
            grade(mean(lower=200), of=sampled(FORCE, 2)),
            "The grade asks for one sample of `breaking_force` and allows no retest. Remove the second stage.",
            "",
        ),
    ],
)
def test_a_second_sample_that_nobody_called_for_is_refused(specification: Document, text: str, rule: str) -> None:
    """Drawing again after a pass, or where the grade allows none, is drawing until it suits."""
    assert [Flaw("stage-not-called-for", text, "/series/1/stage", rule)] == flaws_in(
        specification, lot(series(100, 101), second(100))
    )


def test_a_second_sample_beside_a_first_that_is_short_is_undecided() -> None:
    """The first sample has not decided; it is completed first."""
    assert ["readings-missing"] == codes(found(MEAN, series(100), second(101, 101, 101, 101)))


def test_a_second_sample_without_a_first_one_is_undecided() -> None:
    """The first is asked for: a retest of nothing decides nothing."""
    assert ["readings-missing"] == codes(found(MEAN, second(100, 101, 102, 103)))


def test_a_second_sample_may_stand_anywhere_in_the_document() -> None:
    """Each series says of which sample it is."""
    finding = found(TOGETHER, second(101, 101, 101, 100), series(98, 99))

    assert ("pass", 100, ["/series/0", "/series/1"]) == (
        finding["outcome"],
        finding["measured"]["value"],
        finding["reasons"][1]["at"],
    )


def test_what_is_paired_comes_in_the_order_of_the_samples() -> None:
    """Readings without a package are paired in the order of the document, so a mix of samples would pair the wrong ones."""
    specification = grade(mean(lower=55, of="knot_efficiency", retest=retest(2)), of=[EFFICIENCY, FORCE, KNOT_FORCE])
    evidence = lot(second(100, 100), series(100, 100), series(50, 50, of=KNOT_FORCE), second(60, 60, of=KNOT_FORCE))
    text = "The second stage of `breaking_force` comes before /series/1, which is of the first. Put it after that one."

    assert [Flaw("stages-out-of-order", text, "/series/0/stage")] == flaws_in(specification, evidence)


@pytest.mark.parametrize("derived", [EFFICIENCY, POOLED_EFFICIENCY])
@pytest.mark.parametrize(("judge", "value"), [("second", 60), ("together", 56)])
def test_quotients_are_retested_too(derived: Document, judge: str, value: float) -> None:
    """50 of 100 N and then 60 of 100 N, 2 and 3 times: 60 % of the second, (2 × 50 + 3 × 60) / 5 = 56 % of both."""
    specification = grade(mean(lower=55, of="knot_efficiency", retest=retest(3, judge)), of=[derived, FORCE, KNOT_FORCE])
    first = [series(50, 50, of=KNOT_FORCE), series(100, 100)]
    later = [second(60, 60, 60, of=KNOT_FORCE), second(100, 100, 100)]

    assert ("fail", 50) == (found(specification, *first)["outcome"], found(specification, *first)["measured"]["value"])
    assert ("pass", value) == (
        found(specification, *first, *later)["outcome"],
        found(specification, *first, *later)["measured"]["value"],
    )


@pytest.mark.parametrize("judge", ["second", "together"])
def test_a_quotient_waits_for_both_sides_of_its_retest(judge: str) -> None:
    """The knots are done and the straight breaks are not."""
    specification = grade(mean(lower=55, of="knot_efficiency", retest=retest(3, judge)), of=[EFFICIENCY, FORCE, KNOT_FORCE])
    finding = found(specification, series(50, of=KNOT_FORCE), series(100), second(60, 60, 60, of=KNOT_FORCE))

    assert ("undecided", ["retested", "no-partner"]) == (finding["outcome"], codes(finding))


def test_a_retest_by_the_lot_s_size_says_that_it_is_needed() -> None:
    """Nobody can say how many to draw."""
    share = {"sample": {"plan": "percent", "percent": 5}, "judge": "second"}
    finding = found(grade(mean(lower=100, retest=share)), series(98, 99))

    assert finding["reasons"][1]["text"] == (
        "A retest is allowed. How many readings to take depends on the size of the lot, which is not given. "
        "Give `size` in `lot`."
    )


def test_a_retest_together_takes_as_many_readings_of_a_package() -> None:
    """Packages with one reading and packages with two make no common sample."""
    both = {"sample": fixed(4, 2), "judge": "together"}
    text = (
        "The first sample takes 1 reading of each package and the second 2, so they cannot be judged together. "
        "Ask for the same number in both."
    )

    assert [Flaw("retest-readings-differ", text, "/requirements/0/retest/sample")] == flaws_of(
        grade(mean(lower=100, retest=both), of=sampled(FORCE, 2))
    )


def test_a_plan_with_a_k_of_its_own_is_judged_alone() -> None:
    """The k of a table belongs to its sample size."""
    table = {"plan": "code_letter", "table": "MIL-STD-414", "letter": "F", "aql": 1}
    text = "A plan with its own k cannot be judged together with another sample. Set `judge` to `second`."
    requirement = variables(2, lower=95, retest={"sample": table, "judge": "together"})

    assert [Flaw("retest-together-by-plan", text, "/requirements/0/retest/judge")] == [
        flaw for flaw in flaws_of(grade(requirement)) if flaw.code == "retest-together-by-plan"
    ]


F414: Document = {"plan": "code_letter", "table": "MIL-STD-414", "letter": "B", "aql": 2.5}


def test_the_retest_by_a_table_has_the_k_of_its_own_sample() -> None:
    """Letter B at AQL 2.5: n 3, k 1.12; letter C: n 4, k 1.17. MIL-STD-414, Table B-1 (SEEN).

    100, 101, 102 N: mean 101, s 1, so that towards 100.5 N the quality is 0.5. 101, 102, 102, 103 N: mean 102, s² 2/3, so that
    it is 1.5/0.8165 = 1.837.
    """
    requirement = variables(None, lower=100.5, sample=F414, retest={"sample": {**F414, "letter": "C"}, "judge": "second"})
    specification = grade(requirement)

    assert ("fail", 1.12) == (
        found(specification, series(100, 101, 102))["outcome"],
        found(specification, series(100, 101, 102))["limits"]["k"],
    )
    finding = found(specification, series(100, 101, 102), second(101, 102, 102, 103))
    assert ("pass", 1.17) == (finding["outcome"], finding["limits"]["k"])


def test_a_k_of_one_sample_is_not_put_on_another() -> None:
    """The grade gives k for the first sample, and the table another for the second."""
    text = (
        "One of the two samples has a plan with its own k and the other has none, so the two could be judged by "
        "different k. Use a plan by variables for both, or a sample that is only a size."
    )
    requirement = variables(2, lower=95, retest={"sample": F414, "judge": "second"})

    assert [Flaw("retest-of-other-plan", text, "/requirements/0/retest/sample")] == flaws_of(grade(requirement))


def test_a_limit_that_depends_keeps_what_it_depends_on() -> None:
    """Knots of at least half the straight mean, 100 N: only the knots were drawn again."""
    half = {"limits": {"lower": {"percent": 50, "of_mean": "breaking_force"}}}
    specification = grade({"kind": "mean", "of": "knot_breaking_force", "retest": retest(2), **half}, of=[FORCE, KNOT_FORCE])
    finding = found(specification, series(100, 100), series(49, of=KNOT_FORCE), second(50, 51, of=KNOT_FORCE))

    assert ("pass", 50, 50.5) == (finding["outcome"], finding["limits"]["lower"], finding["measured"]["value"])


def test_what_only_a_limit_goes_by_is_not_drawn_again() -> None:
    """The straight breaks are not what failed."""
    half = {"limits": {"lower": {"percent": 50, "of_mean": "breaking_force"}}}
    specification = grade({"kind": "mean", "of": "knot_breaking_force", "retest": retest(2), **half}, of=[FORCE, KNOT_FORCE])

    assert ["stage-not-called-for"] == [
        flaw.code for flaw in flaws_in(specification, lot(series(100, 100), series(49, of=KNOT_FORCE), second(90)))
    ]


def test_the_retest_of_a_spread_takes_two_values() -> None:
    """One value has no spread."""
    text = "A spread takes at least two values, and the sample of the retest gives one. Ask for more packages or readings."

    assert [Flaw("sample-too-small", text, "/requirements/0/retest/sample")] == flaws_of(
        grade(spread("range", 3, retest=retest(1)))
    )


LOOKS = look_grade(attributes(retest=retest(160, at_most=3)))
LOOKS_TOGETHER = look_grade(attributes(retest=retest(160, "together", at_most=5)))


def test_packages_are_looked_over_again_after_a_failure() -> None:
    """Of 160 more at most 3, as the grade says for the retest."""
    failed = finding_on(LOOKS, count(80, 3))

    assert ("fail", ["more-than-accepted", "retest-allowed"]) == (failed["outcome"], codes(failed))
    assert failed["reasons"][1]["text"] == (
        "A retest is allowed, in which the second sample decides alone. Draw 160 packages and send them as `stage` 2."
    )
    for nonconforming, outcome in ((3, "pass"), (4, "fail")):
        again = finding_on(LOOKS, count(80, 3), count(160, nonconforming, stage=2))

        assert (outcome, {"accept": 3, "reject": 4}) == (again["outcome"], again["limits"])
        assert "/requirements/0/retest/at_most" == again["reasons"][1]["rule"]


def test_the_accept_number_of_the_requirement_holds_for_the_retest_too() -> None:
    """Where the retest names none."""
    grade_alone = look_grade(attributes(retest=retest(80)))

    assert {"accept": 2, "reject": 3} == finding_on(grade_alone, count(80, 3), count(80, 2, stage=2))["limits"]


@pytest.mark.parametrize(
    ("later", "outcome"),
    [(count(160, 2, stage=2), "pass"), (count(160, 3, stage=2), "fail"), (count(159, 2, stage=2), "undecided")],
)
def test_both_looks_decide_together_where_the_grade_says_so(later: Document, outcome: str) -> None:
    """3 in the first 80; both together at most 5 of 240."""
    finding = finding_on(LOOKS_TOGETHER, count(80, 3), later)

    assert (outcome, "retested") == (finding["outcome"], codes(finding)[0])


def test_a_table_can_give_the_retest() -> None:
    """The retest under a plan with its own accept number. MIL-STD-105E, Table II-A, letter K, AQL 0.65: 125 with 2."""
    table = {"plan": "code_letter", "table": "MIL-STD-105E", "letter": "K", "aql": 0.65}
    finding = finding_on(
        look_grade(attributes(retest={"sample": table, "judge": "second"})), count(80, 3), count(125, 2, stage=2)
    )

    assert ("pass", {"accept": 2, "reject": 3}, 125) == (
        finding["outcome"],
        finding["limits"],
        finding["measured"]["packages"],
    )


def test_a_retest_between_two_points_draws_the_plan_by_attributes() -> None:
    """The same two points by variables would take fewer packages.

    The number is that of the plan on the requirement itself.
    """
    points = {"plan": "two_point", "producer": {"percent": 1, "risk": 5}, "consumer": {"percent": 6.5, "risk": 10}}
    itself = finding_on(look_grade(attributes(None, sample=points)))
    failed = finding_on(look_grade(attributes(retest={"sample": points, "judge": "second"})), count(80, 3))

    assert itself["missing"][0]["packages"] == failed["reasons"][1]["with"]["packages"]


DOUBLE = {"plan": "code_letter", "table": "MIL-STD-105E", "letter": "J", "aql": 2.5, "scheme": "double"}


@pytest.mark.parametrize("nonconforming", [2, 5])
def test_a_second_look_that_nobody_called_for_is_refused(nonconforming: int) -> None:
    """A double plan has decided at 2 and at 5 of 50."""
    text = "The first sample has decided on `major`, so no second sample is needed. Remove it."
    evidence = looked_over(count(50, nonconforming), count(50, 0, stage=2))

    assert [Flaw("stage-not-called-for", text, "/counts/1/stage", "/requirements/0")] == flaws_in(
        look_grade(attributes(None, sample=DOUBLE)), evidence
    )


def test_a_single_plan_has_no_second_look() -> None:
    """Nothing in the grade takes it."""
    text = "The grade asks for one sample of `major` and allows no retest. Remove the second stage."
    evidence = looked_over(count(80, 3), count(80, 0, stage=2))

    assert [Flaw("stage-not-called-for", text, "/counts/1/stage")] == flaws_in(look_grade(attributes()), evidence)


def test_a_graver_class_is_looked_for_in_the_second_sample_too() -> None:
    """The class that includes it needs its counts there, though by itself it was decided."""
    specification = look_grade(
        attributes(None, sample=DOUBLE, includes=["critical"]), {**attributes(0, 50), "class": "critical"}
    )
    first = (count(50, 3), count(50, 0, "critical"))
    later = (count(50, 3, stage=2), count(50, 0, "critical", stage=2))

    assert ("pass", "no-more-than-accepted") == code_of(finding_on(specification, *first, *later))
    assert ("undecided", "not-all-counted") == code_of(finding_on(specification, *first, later[0]))


@given(
    first=st.lists(st.integers(90, 110), min_size=2, max_size=4), later=st.lists(st.integers(90, 110), min_size=4, max_size=6)
)
def test_a_retest_never_fails_a_lot_that_passed(first: list[int], later: list[int]) -> None:
    """After a pass the second sample is refused, not judged."""
    evidence = lot(series(*first), second(*later))
    passed = found(MEAN, series(*first))["outcome"] == "pass"

    assert passed == bool(flaws_in(MEAN, evidence))
