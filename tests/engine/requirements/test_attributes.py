"""Packages that are looked over: how many may be nonconforming, and what is told while too few or too many were drawn."""

from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.engine.documents import Flaw
from tests.support.counted import attributes, code_of, count, fault, finding_on, look_grade, looked_over
from tests.support.grades import Document, fixed
from tests.support.judging import flaws_in, flaws_of, judged

PASS = ("pass", "no-more-than-accepted")
FAIL = ("fail", "more-than-accepted")
MISSING = ("undecided", "packages-missing")
MORE = ("undecided", "more-than-plan")
GRADE = look_grade(attributes())


@pytest.mark.parametrize(
    ("counted", "expected"),
    [
        (count(80, 2), PASS),
        (count(80, 3), FAIL),
        (count(79, 2), MISSING),
        (count(79, 3), FAIL),
        (count(81, 2), PASS),
        (count(81, 3), MORE),
        (count(0, 0), MISSING),
        (count(80, 0), PASS),
    ],
)
def test_at_most_so_many_of_so_many_may_be_nonconforming(counted: Document, expected: tuple[str, str]) -> None:
    """Of 80 packages at most 2: the third fails a lot even before all are looked over, and fewer than 80 pass none."""
    assert expected == code_of(finding_on(GRADE, counted))


def test_the_finding_says_what_was_found_and_what_may_be() -> None:
    """The buyer sees the numbers of the plan beside those of the lot."""
    finding = finding_on(GRADE, count(80, 1))

    assert ("r0", "attributes", "major") == (finding["requirement"], finding["kind"], finding["class"])
    assert {"statistic": "nonconforming", "value": 1, "unit": "1", "packages": 80} == finding["measured"]
    assert {"accept": 2, "reject": 3} == finding["limits"]
    assert 1 == finding["margin"]
    assert [
        {
            "code": "no-more-than-accepted",
            "text": "1 of 80 packages is nonconforming in class `major`, and at most 2 may be.",
            "with": {"class": "major", "value": 1, "packages": 80, "accept": 2, "reject": 3},
            "rule": "/requirements/0/at_most",
            "at": ["/counts/0"],
            "at_total": 1,
        }
    ] == finding["reasons"]


def test_what_is_still_to_be_looked_over_is_told() -> None:
    """The inspector goes back for so many packages and no more."""
    finding = finding_on(GRADE, count(30, 1))

    assert [{"class": "major", "packages": 50}] == finding["missing"]
    assert "Still to inspect for class `major`: 50 more packages; the plan takes 80." == finding["reasons"][0]["text"]


def test_a_class_that_was_not_counted_is_missing_whole() -> None:
    """Nothing sent is nothing found out."""
    finding = finding_on(GRADE)

    assert MISSING == code_of(finding)
    assert [{"class": "major", "packages": 80}] == finding["missing"]


def test_of_more_packages_listed_the_first_are_judged() -> None:
    """Five that the inspector looked at for good measure move nothing once it is told which they were."""
    assert PASS == code_of(finding_on(GRADE, count(by_package=[0] * 78 + [1, 4] + [1] * 5)))
    assert FAIL == code_of(finding_on(GRADE, count(by_package=[0] * 77 + [1, 1, 1] + [0] * 5)))


def test_more_than_the_plan_takes_says_to_list_them() -> None:
    """Three in 85 may be one in the plan's 80, or three."""
    finding = finding_on(GRADE, count(85, 3))

    assert finding["reasons"][0]["text"] == (
        "3 of 85 packages are nonconforming in class `major`, and the plan takes 80. "
        "Which were drawn first is not given. List the packages in `by_package`, in the order drawn."
    )


def test_occurrences_are_counted_where_the_grade_says_so() -> None:
    """Two slubs in one ball are two in hundred balls, and one ball that does not conform."""
    grade = look_grade(attributes(counting="occurrences"), attributes())
    findings = judged(grade, looked_over(count(80, 2, occurrences=3)))["findings"]

    assert ["fail", "pass"] == [finding["outcome"] for finding in findings]
    assert "3 occurrences of class `major` are found on 80 packages, and at most 2 may be." == findings[0]["reasons"][0]["text"]
    assert "occurrences" == findings[0]["measured"]["statistic"]


def test_none_may_be_is_said_so() -> None:
    """`At most 0` is no way to put it."""
    finding = finding_on(look_grade(attributes(0, 1)), count(1, 1))

    assert "1 of 1 package is nonconforming in class `major`, and none may be." == finding["reasons"][0]["text"]


NESTED = look_grade(attributes(includes=["critical"]), {**attributes(0), "class": "critical"})


def test_a_class_that_is_looked_for_on_more_packages_and_not_found_adds_nothing() -> None:
    """No mildew on 100 balls is none on the 80 that were looked over for slubs; some on 100 may lie anywhere."""
    clear, found = {**count(100, 0), "class": "critical"}, {**count(100, 1), "class": "critical"}

    assert FAIL == code_of(finding_on(NESTED, count(80, 3), clear))
    assert MORE == code_of(finding_on(NESTED, count(80, 2), found))


def test_graver_classes_count_where_the_grade_includes_them() -> None:
    """Each package is counted once, in its gravest class: 2 major and 1 critical are 3 that are major or worse."""
    findings = judged(NESTED, looked_over(count(80, 2), count(80, 1, "critical")))["findings"]

    assert [FAIL, FAIL] == [code_of(finding) for finding in findings]
    assert (3, ["/counts/0", "/counts/1"]) == (findings[0]["measured"]["value"], findings[0]["reasons"][0]["at"])


def test_listed_packages_are_united_place_by_place() -> None:
    """A ball with a critical and a major fault is one ball, which listing shows and numbers alone do not."""
    major, critical = [1, 1] + [0] * 78, [0, 2] + [0] * 78
    findings = judged(NESTED, looked_over(count(by_package=major), count(by_package=critical, of="critical")))["findings"]

    assert ["pass", "fail"] == [finding["outcome"] for finding in findings]
    assert 2 == findings[0]["measured"]["value"]


def test_classes_looked_over_on_different_numbers_decide_only_what_is_sure() -> None:
    """125 balls were looked at for critical faults and 80 for major ones: 3 in all may lie within the first 80, or not."""
    assert PASS == code_of(finding_on(NESTED, count(80, 1), count(125, 1, "critical")))
    assert MORE == code_of(finding_on(NESTED, count(80, 2), count(125, 1, "critical")))
    assert MISSING == code_of(finding_on(NESTED, count(60, 2), count(125, 1, "critical")))


def test_a_graver_class_that_was_not_counted_leaves_the_other_open() -> None:
    """Nobody has said that there was no critical fault."""
    finding = finding_on(NESTED, count(80, 0))

    assert ("undecided", "not-all-counted") == code_of(finding)
    assert "Not counted: class `critical`. Send a count of each; 0 where nothing was found." == finding["reasons"][0]["text"]


FAULTS = look_grade(attributes(faults=["slub", "thin_place"], counting="occurrences"))


def test_faults_may_be_counted_instead_of_their_class() -> None:
    """An inspector notes slubs and thin places apart; occurrences add up."""
    assert PASS == code_of(
        finding_on(FAULTS, fault("slub", inspected=80, occurrences=1), fault("thin_place", inspected=80, occurrences=1))
    )
    assert FAIL == code_of(
        finding_on(FAULTS, fault("slub", inspected=80, occurrences=1), fault("thin_place", inspected=80, occurrences=2))
    )


def test_a_fault_of_the_class_that_was_not_counted_leaves_it_open() -> None:
    """That nobody looked for thin places is no proof that there is none."""
    finding = finding_on(FAULTS, fault("slub", inspected=80, occurrences=0))

    assert ("undecided", "not-all-counted") == code_of(finding)
    assert "Not counted: fault `thin_place`. Send a count of each; 0 where nothing was found." == finding["reasons"][0]["text"]


def test_packages_with_one_of_several_faults_are_counted_from_lists() -> None:
    """A ball with a slub and a thin place is one ball: from two numbers nobody could tell."""
    grade = look_grade(attributes(1, 3, faults=["slub", "thin_place"]))
    lists = (fault("slub", by_package=[0, 2, 0]), fault("thin_place", by_package=[0, 1, 0]))

    assert PASS == code_of(finding_on(grade, *lists))
    numbers = looked_over(*(fault(name, inspected=3, nonconforming=1) for name in ("slub", "thin_place")))
    assert [
        (
            "count-not-given",
            ("Say in `by_package` how many faults each package had, so that a package with two counts once."),
            "/counts/0",
            "/requirements/0",
        )
    ] == [(flaw.code, flaw.text, flaw.at, flaw.rule) for flaw in flaws_in(grade, numbers)[:1]]


def test_the_packages_of_a_single_fault_are_those_of_its_class() -> None:
    """With one fault in the class there is nothing to count twice."""
    assert FAIL == code_of(finding_on(look_grade(attributes(faults=["slub"])), fault("slub", inspected=80, nonconforming=3)))


def test_a_lot_smaller_than_the_plan_is_undecided() -> None:
    """80 of 50 balls can't be looked over, and 50 are not what the grade asks for."""
    assert ("undecided", "lot-smaller-than-plan") == code_of(finding_on(GRADE, count(50, 0), size=50))


def test_every_package_may_be_asked_for() -> None:
    """A small lot is looked over whole."""
    grade = look_grade(attributes(0, sample={"plan": "every"}))

    assert PASS == code_of(finding_on(grade, count(12, 0), size=12))
    assert MISSING == code_of(finding_on(grade, count(11, 0), size=12))


COUNTS = [
    (count(80, 1, fault="slub"), "class-or-fault", "A count is of a `class` or of a `fault`. Give one of the two.", ""),
    (
        {"inspected": 80, "nonconforming": 1},
        "class-or-fault",
        "A count is of a `class` or of a `fault`. Give one of the two.",
        "",
    ),
    (count(80, 1, "mayor"), "unknown-class", "The grade has no class `mayor`. Did you mean `major`?", "/class"),
    (count(80, 1, "xyz"), "unknown-class", "The grade has no class `xyz`. It has `major`.", "/class"),
    (
        fault("slubb", inspected=80, occurrences=1),
        "unknown-fault",
        "The grade has no fault `slubb`. Did you mean `slub`?",
        "/fault",
    ),
    (
        count(80, 81),
        "more-than-inspected",
        "81 of 80 packages cannot be nonconforming. Correct one of the two.",
        "/nonconforming",
    ),
    (
        count(80, 3, occurrences=2),
        "fewer-than-nonconforming",
        "3 nonconforming packages have at least one occurrence each, and 2 are given. Correct one of the two.",
        "/occurrences",
    ),
    (
        count(80, 0, occurrences=2),
        "occurrences-without-packages",
        "2 occurrences cannot be in 0 nonconforming packages. Correct one of the two.",
        "/occurrences",
    ),
    (
        count(0, occurrences=1),
        "more-than-inspected",
        "1 occurrence cannot be on 0 packages. Correct one of the two.",
        "/occurrences",
    ),
    (
        count(3, by_package=[0, 1]),
        "by-package-differs",
        "By the packages listed it is 2, and 3 is given. Correct it, or remove it.",
        "/inspected",
    ),
    (
        count(nonconforming=2, by_package=[0, 2]),
        "by-package-differs",
        "By the packages listed it is 1, and 2 is given. Correct it, or remove it.",
        "/nonconforming",
    ),
    (
        count(80),
        "nothing-counted",
        "Nothing is counted here. Give `nonconforming`, `occurrences` or `by_package`; 0 where nothing was found.",
        "",
    ),
    (
        count(80, occurrences=0),
        "count-not-given",
        ("How many packages are nonconforming is not given. Give `nonconforming` or `by_package`."),
        "",
    ),
    (
        count(nonconforming=0),
        "nothing-looked-over",
        "How much was inspected is not given. Give `inspected` or `by_package`.",
        "",
    ),
    (
        count(80, 0, looked_at={"value": 3, "unit": "m"}),
        "looked-at-not-here",
        "The grade counts this on packages, not on a length or a mass. Remove `looked_at`.",
        "/looked_at",
    ),
    (
        count(1201, 0),
        "more-than-lot",
        "1201 packages were inspected, and the lot has 1200. Correct one of the two.",
        "",
    ),
    (
        count(80, 0, stage=2),
        "stage-without-first",
        "There is a second stage of `major` and no first one. Give the first, or remove `stage`.",
        "/stage",
    ),
]


@pytest.mark.parametrize(("counted", "code", "text", "at"), COUNTS)
def test_a_count_is_told_what_is_wrong_with_it(counted: Document, code: str, text: str, at: str) -> None:
    """Numbers that contradict each other decide nothing; whoever wrote them down is asked."""
    grade = look_grade(attributes(faults=["slub"]))

    assert [(code, text, f"/counts/0{at}")] == [
        (flaw.code, flaw.text, flaw.at) for flaw in flaws_in(grade, looked_over(counted, size=1200))
    ]


def test_a_class_is_counted_once_in_a_stage() -> None:
    """Two counts of one class could be a sum, or a correction."""
    text = "`major` is already counted at /counts/0, in the same stage. Put both into one."

    assert [Flaw("counted-twice", text, "/counts/1/class")] == flaws_in(GRADE, looked_over(count(80, 1), count(80, 1)))


def test_a_class_and_its_faults_are_not_both_counted() -> None:
    """One of the two would have to be left aside, and nobody says which."""
    grade = look_grade(attributes(faults=["slub"]))
    text = "`slub` belongs to `major`, which is counted at /counts/0. Remove one of the two."
    evidence = looked_over(count(80, 1), fault("slub", inspected=80, nonconforming=5))

    assert [Flaw("counted-in-two-ways", text, "/counts/1/fault")] == flaws_in(grade, evidence)


TWO_STAGES = look_grade(
    {
        **attributes(None, faults=["slub", "thin_place"], counting="occurrences"),
        "sample": {"plan": "code_letter", "table": "MIL-STD-105E", "level": "II", "aql": 1, "scheme": "double"},
    },
    {"kind": "rate", "faults": ["slub"], "per": {"value": 1000, "unit": "m"}, "at_most": 2},
)
SAME_WAY = "Count both stages in the same way: the class as a whole, or each of its faults."


def slubs(stage: int, occurrences: int = 1, of: str = "slub") -> Document:
    """Occurrences of a fault on 50 packages."""
    return fault(of, inspected=50, occurrences=occurrences, stage=stage)


def of_class(stage: int) -> Document:
    """One occurrence of the class on 50 packages."""
    return count(50, occurrences=1, stage=stage)


@pytest.mark.parametrize(
    ("counts", "text", "at"),
    [
        (
            [slubs(1), slubs(1, of="thin_place"), of_class(2)],
            f"The first stage of `major` is counted fault by fault, at /counts/0, and this one as a whole. {SAME_WAY}",
            "/counts/2/stage",
        ),
        (
            [of_class(1), slubs(2)],
            f"The first stage of `slub` is counted as part of its class, at /counts/0, and this one by itself. {SAME_WAY}",
            "/counts/1/stage",
        ),
        (
            [fault("slub", occurrences=1, looked_at={"value": 2000, "unit": "m"}), of_class(2)],
            "There is a second stage of `major` and no first one. Give the first, or remove `stage`.",
            "/counts/1/stage",
        ),
    ],
    ids=["by fault, then by class", "by class, then by fault", "on a length, which is no stage of the class"],
)
def test_both_stages_are_counted_in_the_same_way(counts: list[Document], text: str, at: str) -> None:
    """A class told as a whole says nothing of which fault it was, so its stages can't be added up with those of a fault."""
    assert [Flaw("stage-without-first", text, at)] == flaws_in(TWO_STAGES, looked_over(*counts, size=1200))


def test_either_way_of_counting_both_stages_is_taken() -> None:
    """Fault by fault, or the class as a whole: 1 and 1, where up to 3 are accepted (MIL-STD-105E, Table III-A, K, AQL 1)."""
    by_fault = [slubs(stage, bad, of) for stage in (1, 2) for of, bad in (("slub", 1), ("thin_place", 0))]
    for counts in (by_fault, [of_class(1), of_class(2)]):
        finding = finding_on(TWO_STAGES, *counts, size=1200)

        assert ("pass", 2) == (finding["outcome"], finding["measured"]["value"])


REQUIREMENTS = [
    (
        attributes(None),
        Flaw(
            "missing-field",
            ("The plan `fixed` gives how many packages to draw, but not how many may be nonconforming. Add `at_most`."),
            "/requirements/0/at_most",
        ),
    ),
    (
        attributes(sample={"plan": "fixed", "packages": 5, "readings_per_package": 2}),
        Flaw(
            "readings-not-here",
            "Packages are inspected here, and no reading is taken. Remove `readings_per_package`.",
            "/requirements/0/sample/readings_per_package",
        ),
    ),
    (
        attributes(faults=["slub", "slub"]),
        Flaw(
            "name-twice",
            "`slub` is already in the list. Remove it here.",
            "/requirements/0/faults/1",
        ),
    ),
    (
        attributes(includes=["major"]),
        Flaw("class-includes-itself", "`major` is the class itself. Remove it.", "/requirements/0/includes/0"),
    ),
    (
        attributes(includes=["critical"]),
        Flaw(
            "unknown-class",
            "No requirement counts a class `critical`. Add a requirement on it, or correct the name.",
            "/requirements/0/includes/0",
        ),
    ),
    (
        attributes(sample={"plan": "percent", "percent": 1e-10}),
        Flaw(
            "beyond-range",
            ("1e-10 is out of range. Choose a unit in which it is 0, or from 1e-9 to 1e12."),
            "/requirements/0/sample/percent",
        ),
    ),
]


@pytest.mark.parametrize(("requirement", "flaw"), REQUIREMENTS)
def test_a_requirement_is_told_what_is_wrong_with_it(requirement: Document, flaw: Flaw) -> None:
    """A plan without an accept number would accept anything, or nothing."""
    assert [flaw] == flaws_of(look_grade(requirement))


TABLE: Document = {"plan": "code_letter", "table": "MIL-STD-105E", "letter": "J", "aql": 2.5}
BY_PLAN = [
    (
        attributes(2, sample=TABLE),
        Flaw(
            "at-most-not-here",
            "The plan `code_letter` has its own accept number. Remove `at_most`, or use another plan.",
            "/requirements/0/at_most",
        ),
    ),
    (
        attributes(None, sample={**TABLE, "table": "MIL-STD-414", "letter": "F"}),
        Flaw(
            "plan-not-here",
            "The sample is a plan by variables, and this requirement accepts by attributes. "
            "Give it one of MIL-STD-105E, or a sample that is only a size and `at_most`.",
            "/requirements/0/sample",
        ),
    ),
    (
        attributes(None, sample={**TABLE, "aql": 15}),
        Flaw(
            "aql-of-occurrences",
            (
                "An AQL of 15 is a number of faults per hundred packages, not a percentage of packages. "
                "Set `counting` to `occurrences`, or write an AQL of 10 or less."
            ),
            "/requirements/0/sample/aql",
        ),
    ),
    (
        attributes(None, sample={**TABLE, "scheme": "double"}, retest={"sample": TABLE, "judge": "second"}),
        Flaw(
            "retest-of-double",
            "A double plan has its own second sample. Remove `retest`, or use the `single` scheme.",
            "/requirements/0/sample/scheme",
        ),
    ),
    (
        attributes(retest={"sample": TABLE, "judge": "together", "at_most": 4}),
        Flaw(
            "retest-together-by-plan",
            "A plan with its own accept number cannot be judged together with another. Set `judge` to `second`.",
            "/requirements/0/retest/sample",
        ),
    ),
    (
        attributes(retest={"sample": fixed(160), "judge": "together"}),
        Flaw(
            "missing-field",
            "How many of both samples together may be nonconforming is not given. Add `at_most`.",
            "/requirements/0/retest/at_most",
        ),
    ),
    (
        attributes(None, sample=TABLE, retest={"sample": fixed(160), "judge": "second"}),
        Flaw(
            "missing-field",
            ("The plan `fixed` gives how many packages to draw, but not how many may be nonconforming. Add `at_most`."),
            "/requirements/0/retest/at_most",
        ),
    ),
]


def test_a_table_says_how_severely_the_lot_is_inspected() -> None:
    """Letter J at AQL 2.5: under normal inspection 3 of 80 pass, under reduced 3 of 32 in the gap. MIL-STD-105E, II-A, II-C."""
    grade = look_grade(attributes(None, sample=TABLE))
    normal, reduced = finding_on(grade, count(80, 3)), finding_on(grade, count(32, 3), inspection="reduced")

    assert (PASS, {"accept": 5, "reject": 6}) == (code_of(normal), normal["limits"])
    assert (("pass", "accepted-in-gap"), {"accept": 2, "reject": 5}) == (code_of(reduced), reduced["limits"])


def test_a_double_plan_waits_for_its_second_sample() -> None:
    """Letter J at AQL 2.5: 50 with 2 or 5, then 50 more with 6 or 7. MIL-STD-105E, Table III-A."""
    grade = look_grade(attributes(None, sample={**TABLE, "scheme": "double"}))

    assert ("undecided", "second-sample-needed") == code_of(finding_on(grade, count(50, 3)))
    assert MISSING == code_of(finding_on(grade, count(50, 3), count(49, 3, stage=2)))
    assert FAIL == code_of(finding_on(grade, count(50, 3), count(49, 4, stage=2)))
    assert MORE == code_of(finding_on(grade, count(50, 3), count(51, 4, stage=2)))
    assert PASS == code_of(finding_on(grade, count(50, 3), count(by_package=[1] * 3 + [0] * 47 + [1] * 5, stage=2)))


@pytest.mark.parametrize(("requirement", "flaw"), BY_PLAN)
def test_a_plan_of_a_table_is_told_what_is_wrong_with_it(requirement: Document, flaw: Flaw) -> None:
    """The accept number of a table is not the grade's to change."""
    assert [flaw] == flaws_of(look_grade(requirement))


@given(
    by_package=st.lists(st.integers(0, 3), min_size=3, max_size=4),
    at_most=st.integers(0, 3),
    counting=st.sampled_from(["packages", "occurrences"]),
)
def test_the_order_of_packages_changes_nothing(by_package: list[int], at_most: int, counting: str) -> None:
    """As long as no more were drawn than the plan takes."""
    grade = look_grade(attributes(at_most, 4, counting=counting))
    outcomes = {code_of(finding_on(grade, count(by_package=list(each)))) for each in permutations(by_package)}

    assert 1 == len(outcomes)


@given(counted=st.tuples(st.integers(1, 12), st.integers(0, 11)).map(sorted), at_most=st.integers(0, 4))
def test_one_more_nonconforming_package_never_rescues_a_lot(counted: list[int], at_most: int) -> None:
    """Worse packages never make it better."""
    order = ["pass", "undecided", "fail"]
    grade = look_grade(attributes(at_most, 8))
    nonconforming, inspected = counted
    before = finding_on(grade, count(inspected, max(0, nonconforming - 1)))
    after = finding_on(grade, count(inspected, nonconforming))

    assert order.index(before["outcome"]) <= order.index(after["outcome"])


def test_a_grade_without_classes_says_so() -> None:
    """`It has nothing` would be no answer to who sent a count."""
    specification, told = look_grade({"kind": "mean", "of": "breaking_force", "limits": {"lower": 1}}), count(80, 1)
    text = "This grade has no classes of defects. Remove"

    assert [f"{text} the count."] == [flaw.text for flaw in flaws_in(specification, looked_over(told))]
    assert [f"{text} it."] == [
        flaw.text for flaw in flaws_in(specification, looked_over(inspections=[{"class": "major", "inspection": "tightened"}]))
    ]
