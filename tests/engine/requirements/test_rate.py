"""Faults per length or mass that was looked at."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.engine.documents import Flaw
from tests.support.counted import attributes, code_of, fault, finding_on, look_grade, looked_over
from tests.support.grades import Document
from tests.support.judging import flaws_in, flaws_of, judged


def amount(value: float, unit: str = "m") -> Document:
    """A length or a mass."""
    return {"value": value, "unit": unit}


def rate(at_most: float = 2, **members: object) -> Document:
    """At most so many knots per 1000 m, where nothing else is said."""
    return {"kind": "rate", "faults": ["knot"], "per": amount(1000), "at_most": at_most, **members}


def knots(occurrences: int, looked_at: float, unit: str = "m", **members: object) -> Document:
    """So many knots on so much."""
    return fault("knot", occurrences=occurrences, looked_at=amount(looked_at, unit), **members)


GRADE = look_grade(rate())


@pytest.mark.parametrize(
    ("counted", "expected"),
    [
        (knots(3, 2400), ("pass", "within")),
        (knots(2, 1000), ("pass", "within")),
        (knots(2, 999), ("fail", "above-at-most")),
        (knots(0, 1), ("pass", "within")),
        (knots(2, 1, "km"), ("pass", "within")),
        (knots(2, 1093.7, "yd"), ("pass", "within")),
        (knots(2, 1093.6, "yd"), ("fail", "above-at-most")),
    ],
)
def test_a_rate_is_compared_exactly_in_any_unit_of_length(counted: Document, expected: tuple[str, str]) -> None:
    """1000 m are 1093.6133 yd, since a yard is 0.9144 m: 2 knots on 1093.6 yd are a little too many."""
    assert expected == code_of(finding_on(GRADE, counted))


def test_the_finding_says_the_rate_and_what_it_may_be() -> None:
    """3 knots on 2000 m are 1.5 per 1000 m."""
    finding = finding_on(GRADE, knots(3, 2000))

    assert ("r0", "rate") == (finding["requirement"], finding["kind"])
    assert {"statistic": "rate", "value": 1.5, "unit": "1/1000 m"} == finding["measured"]
    assert ({"at_most": 2, "unit": "1/1000 m"}, 0.5) == (finding["limits"], finding["margin"])
    assert [
        {
            "code": "within",
            "text": "The rate of `knot`, 1.5 per 1000 m, is 0.5 per 1000 m below the most allowed, 2 per 1000 m.",
            "with": {"value": 1.5, "limit": 2, "unit": "1/1000 m", "by": 0.5, "occurrences": 3},
            "rule": "/requirements/0/at_most",
            "at": ["/counts/0"],
            "at_total": 1,
        }
    ] == finding["reasons"]


def test_rates_of_several_faults_add_up() -> None:
    """Knots on 1000 m and splices on 2000 m of it: 1 + 3/2 = 2.5 per 1000 m."""
    grade = look_grade(rate(faults=["knot", "splice"]))
    finding = finding_on(grade, knots(1, 1000), fault("splice", occurrences=3, looked_at=amount(2000)))

    assert ("fail", 2.5) == (finding["outcome"], finding["measured"]["value"])
    assert "The rate of `knot` and `splice`, 2.5 per 1000 m, is 0.5 per 1000 m above" in finding["reasons"][0]["text"]


def test_a_fault_that_was_not_counted_leaves_the_rate_open() -> None:
    """Nobody has looked for splices."""
    finding = finding_on(look_grade(rate(faults=["knot", "splice"])), knots(9, 1000))

    assert ("undecided", "not-all-counted") == code_of(finding)
    assert finding["reasons"][0]["text"] == (
        "Not counted: fault `splice`. Send a count of each with the amount `looked_at`; 0 where nothing was found."
    )


def test_too_little_looked_at_decides_nothing() -> None:
    """One knot on the first 100 m would be 10 per 1000 m, and may be the only one on the ball."""
    grade = look_grade(rate(at_least_looked_at=amount(2, "km")))
    finding = finding_on(grade, knots(5, 1999))

    assert ("undecided", "too-little-looked-at") == code_of(finding)
    assert "1999 m was inspected, and the grade asks for at least 2 km. Inspect more." == finding["reasons"][0]["text"]
    # 150 lb are 68.0388555 kg, which no inspector has read on a scale.
    by_mass = look_grade(rate(per=amount(100, "kg"), at_least_looked_at=amount(200, "lb")))
    text = finding_on(by_mass, knots(5, 150, "lb"))["reasons"][0]["text"]
    assert "150 lb was inspected, and the grade asks for at least 200 lb. Inspect more." == text
    assert "fail" == finding_on(grade, knots(5, 2000))["outcome"]


def test_a_rate_per_mass_is_of_masses() -> None:
    """Stains per 100 kg."""
    grade = look_grade(rate(1, faults=["stain"], per=amount(100, "kg")))

    assert "pass" == finding_on(grade, fault("stain", occurrences=10, looked_at=amount(1, "t")))["outcome"]
    text = "`m` is a unit of length and the grade counts this on a mass. Write one of `mg`, `g`, `kg`, `t`, `oz` or `lb`."
    assert [Flaw("unit-of-other-quantity", text, "/counts/0/looked_at/unit")] == flaws_in(
        grade, looked_over(fault("stain", occurrences=1, looked_at=amount(5)))
    )


def test_a_mass_is_no_length_for_another_rate() -> None:
    """Two rates on stains, per 1000 m and per 100 kg: 5 kg looked at say nothing of metres."""
    grade = look_grade(rate(faults=["stain"]), rate(1, faults=["stain"], per=amount(100, "kg")))
    findings = judged(grade, looked_over(fault("stain", occurrences=0, looked_at=amount(5, "kg"))))["findings"]

    assert ["undecided", "pass"] == [finding["outcome"] for finding in findings]


def test_a_fault_counts_for_its_class_and_for_a_rate() -> None:
    """One count says on how many balls and on how many metres."""
    grade = look_grade(rate(), attributes(faults=["knot"], counting="occurrences"))
    findings = judged(grade, looked_over(knots(3, 2400, inspected=80)))["findings"]

    assert ["pass", "fail"] == [finding["outcome"] for finding in findings]
    assert ["pass", "undecided"] == [finding["outcome"] for finding in judged(grade, looked_over(knots(3, 2400)))["findings"]]


COUNTS = [
    (fault("knot", occurrences=3), "nothing-looked-over", "How much was inspected is not given. Give `looked_at`.", ""),
    (
        fault("knot", looked_at=amount(5), nonconforming=3),
        "count-not-given",
        "How many faults were found is not given. Give `occurrences` or `by_package`.",
        "",
    ),
    (
        fault("splice", occurrences=1, looked_at=amount(5)),
        "unknown-fault",
        "The grade has no fault `splice`. It has `knot`.",
        "/fault",
    ),
    (
        knots(1, 5, "kg"),
        "unit-of-other-quantity",
        (
            "`kg` is a unit of mass and the grade counts this on a length. "
            "Write one of `mm`, `cm`, `m`, `km`, `in`, `ft` or `yd`."
        ),
        "/looked_at/unit",
    ),
]


@pytest.mark.parametrize(("counted", "code", "text", "at"), COUNTS)
def test_a_count_is_told_what_is_wrong_with_it(counted: Document, code: str, text: str, at: str) -> None:
    """Three knots on an unknown length are no rate."""
    assert [(code, text, f"/counts/0{at}")] == [
        (flaw.code, flaw.text, flaw.at) for flaw in flaws_in(GRADE, looked_over(counted))
    ]


REQUIREMENTS = [
    (
        rate(per=amount(1000, "N")),
        "unit-of-other-quantity",
        "`N` is a unit of force and a rate is per length or mass.",
        "/per/unit",
    ),
    (
        rate(at_least_looked_at=amount(2, "kg")),
        "unit-of-other-quantity",
        "`kg` is a unit of mass and this rate is per length.",
        "/at_least_looked_at/unit",
    ),
    (rate(1e-10), "beyond-range", "1e-10 is out of range.", "/at_most"),
    (rate(faults=["knot", "knot"]), "name-twice", "`knot` is already in the list.", "/faults/1"),
]


@pytest.mark.parametrize(("requirement", "code", "text", "at"), REQUIREMENTS)
def test_a_rate_is_told_what_is_wrong_with_it(requirement: Document, code: str, text: str, at: str) -> None:
    """Knots per newton are a slip."""
    flaw, *others = flaws_of(look_grade(requirement))

    assert ([], code, f"/requirements/0{at}") == (others, flaw.code, flaw.at)
    assert flaw.text.startswith(text)


def test_a_rate_has_no_second_stage() -> None:
    """A rate goes by what was looked at, in one go."""
    evidence = looked_over(knots(3, 2400), knots(3, 2400, stage=2))

    assert ["stage-not-called-for"] == [flaw.code for flaw in flaws_in(GRADE, evidence)]


@given(occurrences=st.integers(0, 50), looked_at=st.integers(1, 5000), at_most=st.integers(0, 20))
def test_the_margin_agrees_with_the_outcome(occurrences: int, looked_at: int, at_most: int) -> None:
    """By exact fractions, on the limit too."""
    expected = Fraction(occurrences * 1000, looked_at) <= at_most
    finding = finding_on(look_grade(rate(at_most)), knots(occurrences, looked_at))

    assert ("pass" if expected else "fail") == finding["outcome"]
    assert expected == (finding["margin"] >= 0)
