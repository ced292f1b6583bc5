"""What is declared of a lot beside what it has to be."""

import pytest

from service.engine.documents import Flaw
from tests.support.grades import DIRECTION, Document, declared, grade, lot
from tests.support.judging import flaws_in, flaws_of, judged

TREATMENT: Document = {"name": "treatment"}


def on_treatment(value: object, *one_of: object) -> Document:
    """The finding on this declaration."""
    finding: Document = judged(grade(declared(*one_of), of=TREATMENT), lot(declared={"treatment": value}))["findings"][0]
    return finding


def test_a_declaration_that_is_one_of_them_passes() -> None:
    """It has neither limits nor a margin: a lay is Z or it is not."""
    finding = judged(grade(declared("S", "Z"), of=DIRECTION), lot(declared={"twist_direction": "Z"}))["findings"][0]

    assert {
        "requirement": "r0",
        "kind": "declared",
        "characteristic": "twist_direction",
        "binding": True,
        "outcome": "pass",
        "reasons": [
            {
                "code": "declared-agrees",
                "text": "Twist direction is entered as `Z`, and may be `S` or `Z`.",
                "with": {"value": "Z", "one_of": ["S", "Z"]},
                "rule": "/requirements/0/one_of",
                "at": ["/declared/0"],
                "at_total": 1,
            }
        ],
    } == finding


def test_another_declaration_fails() -> None:
    """Case counts: what the grade writes is what is declared."""
    finding = on_treatment("Oiled", "oiled")

    assert ("fail", "declared-differs") == (finding["outcome"], finding["reasons"][0]["code"])
    assert "Treatment is entered as `Oiled`; it must be `oiled`." == finding["reasons"][0]["text"]


def test_without_a_declaration_it_is_undecided() -> None:
    """Nothing said is not yet something wrong; nor is it right."""
    finding = judged(grade(declared("Z"), of=DIRECTION), lot())["findings"][0]

    assert ("undecided", "not-declared", 0) == (
        finding["outcome"],
        finding["reasons"][0]["code"],
        finding["reasons"][0]["at_total"],
    )
    assert "Twist direction is not entered; it must be `Z`." == finding["reasons"][0]["text"]


@pytest.mark.parametrize(
    ("value", "wanted", "outcome"),
    [
        (1, 1.0, "pass"),
        (3, 4, "fail"),
        (-0.0, 0, "pass"),
        (1, True, "fail"),
        (True, 1, "fail"),
        (True, True, "pass"),
        (False, 0, "fail"),
        ("1", 1, "fail"),
    ],
)
def test_numbers_texts_and_booleans_are_told_apart(value: object, wanted: object, outcome: str) -> None:
    """1 and 1.0 are one number; 1, "1" and true are three things."""
    assert outcome == on_treatment(value, wanted)["outcome"]


def test_two_numbers_that_differ_are_shown_to_differ() -> None:
    """A sentence that says "is `0.3`; it has to be `0.3`" explains nothing."""
    finding = on_treatment(0.30000000000000004, 0.3)

    assert "Treatment is entered as `0.30000000000000004`; it must be `0.3`." == finding["reasons"][0]["text"]


@pytest.mark.parametrize(
    ("value", "shown"), [(True, "true"), (False, "false"), (3, "3"), (2.5, "2.5"), (1e12, "1000000000000"), (1e-9, "1e-09")]
)
def test_a_value_is_shown_as_a_document_writes_it(value: object, shown: str) -> None:
    """Whoever wrote `true` finds `true`."""
    assert f"Treatment is entered as `{shown}`, as it must be." == (on_treatment(value, value)["reasons"][0]["text"])


def test_a_long_declaration_is_cut_in_the_sentence() -> None:
    """The sentence stays readable, the parameters stay whole."""
    finding = on_treatment("a" * 200, "oiled")

    assert f"Treatment is entered as `{'a' * 39}…`; it must be `oiled`." == finding["reasons"][0]["text"]
    assert "a" * 200 == finding["reasons"][0]["with"]["value"]


STRANDS: Document = {"name": "strands"}
THREE_OR_FOUR: Document = {"id": "strands", "kind": "declared", "of": "strands", "limits": {"lower": 3, "upper": 4}}


def of_strands(value: object, **limits: object) -> Document:
    """The finding on a declared number of strands; between 3 and 4 where nothing else is said."""
    requirement = {**THREE_OR_FOUR, "limits": limits or THREE_OR_FOUR["limits"]}
    finding: Document = judged(grade(requirement, of=STRANDS), lot(declared={"strands": value}))["findings"][0]
    return finding


def test_a_declared_count_within_limits_passes() -> None:
    """A rope of three or four strands; nobody counts them in the laboratory."""
    assert {
        "requirement": "strands",
        "kind": "declared",
        "characteristic": "strands",
        "binding": True,
        "outcome": "pass",
        "measured": {"statistic": "declared", "value": 4, "unit": "1"},
        "limits": {"lower": 3, "upper": 4, "unit": "1"},
        "margin": 0,
        "reasons": [
            {
                "code": "within",
                "text": "The declared strands, 4, is exactly on the upper limit of 4.",
                "with": {"value": 4, "limit": 4, "unit": "1", "by": 0},
                "rule": "/requirements/0/limits/upper",
                "at": ["/declared/0"],
                "at_total": 1,
            }
        ],
    } == of_strands(4)


@pytest.mark.parametrize(
    ("value", "code", "margin", "text"),
    [
        (2, "below-lower", -1, "The declared strands, 2, is 1 below the lower limit of 3."),
        (8, "above-upper", -4, "The declared strands, 8, is 4 above the upper limit of 4."),
    ],
)
def test_a_declared_count_outside_limits_fails(value: int, code: str, margin: int, text: str) -> None:
    """By how many, and which limit."""
    finding = of_strands(value)
    [reason] = finding["reasons"]

    assert ("fail", code, margin, text) == (finding["outcome"], reason["code"], finding["margin"], reason["text"])


@pytest.mark.parametrize(("value", "outcome"), [(0.3, "pass"), (0.30000000000000004, "fail"), (-1, "pass")])
def test_a_declared_number_is_compared_exactly(value: float, outcome: str) -> None:
    """0.1 + 0.2 is what some programs send for 0.3, and it is not 0.3; a ratio may be negative."""
    finish: Document = {"name": "shrinkage_declared", "unit": "%", "quantity": "ratio"}
    requirement = {"kind": "declared", "limits": {"upper": 0.3}}
    finding = judged(grade(requirement, of=finish), lot(declared={"shrinkage_declared": value}))["findings"][0]

    assert outcome == finding["outcome"]


def test_without_a_declared_number_it_is_undecided() -> None:
    """What it has to keep is told."""
    finding = judged(grade(THREE_OR_FOUR, of=STRANDS), lot())["findings"][0]

    assert ("undecided", "not-declared") == (finding["outcome"], finding["reasons"][0]["code"])
    assert (
        "Strands is not entered; it must keep the lower limit of 3 and the upper limit of 4." == finding["reasons"][0]["text"]
    )


@pytest.mark.parametrize(("value", "outcome"), [(2, "fail"), (3, "pass")])
def test_a_limit_of_a_declaration_may_exclude_itself(value: int, outcome: str) -> None:
    """More than two strands are three."""
    assert outcome == of_strands(value, above=2)["outcome"]


def test_what_a_declaration_has_to_be_above_is_told() -> None:
    """The limit itself would not do."""
    finding = judged(grade({"kind": "declared", "limits": {"above": 2}}, of=STRANDS), lot())["findings"][0]

    assert "Strands is not entered; it must keep the lower limit of 2, and must be above it." == finding["reasons"][0]["text"]


@pytest.mark.parametrize(
    ("value", "code", "text"),
    [
        ("three", "declared-not-a-number", "Strands has limits, and `three` is not a number. Enter a number."),
        (True, "declared-not-a-number", "Strands has limits, and `true` is not a number. Enter a number."),
        (3.5, "not-whole", "Strands is a count, and 3.5 is not a whole number. Correct it."),
        (-3, "negative", "Strands is never negative, and -3 is. Correct the number."),
    ],
)
def test_what_limits_can_not_hold_is_a_flaw(value: object, code: str, text: str) -> None:
    """A text beside limits would neither pass nor fail."""
    flaws = flaws_in(grade(THREE_OR_FOUR, of=STRANDS), lot(declared={"strands": value}))

    assert [Flaw(code, text, "/declared/0/value", "/requirements/0/limits")] == flaws


@pytest.mark.parametrize(
    ("members", "text"),
    [
        ({}, "Neither `one_of` nor `limits` is given. Give one of the two."),
        ({"one_of": [3], "limits": {"lower": 3}}, "Both `one_of` and `limits` are given. Remove one of the two."),
    ],
)
def test_a_declaration_is_held_to_a_list_or_to_limits(members: Document, text: str) -> None:
    """Both could disagree, and without either everything would pass."""
    assert [Flaw("one-of-or-limits", text, "/requirements/0")] == flaws_of(grade({"kind": "declared", **members}, of=STRANDS))


def test_a_category_has_no_limits() -> None:
    """A lay is Z or S, and neither is more."""
    text = "`twist_direction` is a category, which has no limits. List what may be declared in `one_of`."
    document = grade({"kind": "declared", "limits": {"lower": 3}}, of=DIRECTION)

    assert [Flaw("limits-of-category", text, "/requirements/0/limits")] == flaws_of(document)


def test_limits_of_a_declaration_are_in_order() -> None:
    """As those of what is measured."""
    document = grade({"kind": "declared", "limits": {"lower": 4, "upper": 3}}, of=STRANDS)

    assert ["limits-upside-down"] == [flaw.code for flaw in flaws_of(document)]
