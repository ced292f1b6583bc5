"""What is declared of a lot beside what it has to be."""

import pytest

from tests.support.grades import DIRECTION, Document, declared, grade, lot
from tests.support.judging import judged

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
                "text": "The declared twist direction, `Z`, is what it has to be: `S` or `Z`.",
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
    assert "The declared treatment is `Oiled`; it has to be `oiled`." == finding["reasons"][0]["text"]


def test_without_a_declaration_it_is_undecided() -> None:
    """Nothing said is not yet something wrong; nor is it right."""
    finding = judged(grade(declared("Z"), of=DIRECTION), lot())["findings"][0]

    assert ("undecided", "not-declared", 0) == (
        finding["outcome"],
        finding["reasons"][0]["code"],
        finding["reasons"][0]["at_total"],
    )
    assert "No twist direction is declared; it has to be `Z`." == finding["reasons"][0]["text"]


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

    assert "The declared treatment is `0.30000000000000004`; it has to be `0.3`." == finding["reasons"][0]["text"]


@pytest.mark.parametrize(
    ("value", "shown"), [(True, "true"), (False, "false"), (3, "3"), (2.5, "2.5"), (1e12, "1000000000000"), (1e-9, "1e-09")]
)
def test_a_value_is_shown_as_a_document_writes_it(value: object, shown: str) -> None:
    """Whoever wrote `true` finds `true`."""
    assert (
        f"The declared treatment, `{shown}`, is what it has to be: `{shown}`."
        == (on_treatment(value, value)["reasons"][0]["text"])
    )


def test_a_long_declaration_is_cut_in_the_sentence() -> None:
    """The sentence stays readable, the parameters stay whole."""
    finding = on_treatment("a" * 200, "oiled")

    assert f"The declared treatment is `{'a' * 39}…`; it has to be `oiled`." == finding["reasons"][0]["text"]
    assert "a" * 200 == finding["reasons"][0]["with"]["value"]
