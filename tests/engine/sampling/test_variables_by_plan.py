"""Acceptance by variables with a k from a plan, or from a content and a confidence, and with a known standard deviation."""

import pytest

from service.engine.documents import Flaw
from tests.support.grades import FORCE, Document, fixed, grade, lot, series
from tests.support.judging import flaws_of, found, judged

FIVE = (197, 188, 184, 205, 201)
"""Mean 195, variance 77.5 (by hand)."""
AT = "/requirements/0"


def variables(**members: object) -> Document:
    """A requirement by variables with a lower limit of 180 where no limits are given."""
    return {"kind": "variables", "limits": {"lower": 180}, **members}


def letter(aql: float, **members: object) -> Document:
    """A plan of MIL-STD-414."""
    return {"plan": "code_letter", "table": "MIL-STD-414", "aql": aql, **members}


def test_the_k_comes_from_the_plan() -> None:
    """Letter D, 5 packages, AQL 1.0: k 1.53; Q = 15/√77.5 = 1.70389.

    Source: MIL-STD-414 Table B-1 and section B, Form 1 (reference V1; SEEN earlier, Q by CALC).
    """
    finding = found(grade(variables(sample=letter(1, letter="D"))), series(*FIVE))

    assert ("pass", 1.53, 1.70389) == (finding["outcome"], finding["limits"]["k"], round(finding["measured"]["value"], 5))
    assert (
        "The mean breaking force lies 1.704 standard deviations above the lower limit of 180 N; the plan (letter D, a "
        "sample of 5) asks for at least 1.53."
    ) == finding["reasons"][0]["text"]
    assert f"{AT}/sample" == finding["reasons"][0]["rule"]


def test_a_raised_limit_is_not_met() -> None:
    """With a limit of 183, Q = 12/√77.5 = 1.36311 is below 1.53 (reference V2; CALC)."""
    finding = found(grade(variables(limits={"lower": 183}, sample=letter(1, letter="D"))), series(*FIVE))

    assert ("fail", 1.36311) == (finding["outcome"], round(finding["measured"]["value"], 5))


def test_the_lots_size_gives_the_letter() -> None:
    """A lot of 35 at level IV is letter D: 5 packages; of 4 one is missing. Source: MIL-STD-414 Table A-2 (SEEN)."""
    specification = grade(variables(sample=letter(1, level="IV")))

    assert "pass" == found(specification, series(*FIVE), size=35)["outcome"]
    assert [{"characteristic": "breaking_force", "packages": 1, "readings": 1}] == found(
        specification, series(*FIVE[:4]), size=35
    )["missing"]
    assert ["lot-size-unknown"] == [reason["code"] for reason in found(specification, series(*FIVE))["reasons"]]


def test_tightened_inspection_takes_the_next_smaller_aql() -> None:
    """Tightened 1.0 is normal 0.65: k 1.65 for letter D. Source: MIL-STD-414 Table B-1 (SEEN)."""
    evidence = lot(series(*FIVE))
    evidence["lot"]["inspection"] = "tightened"
    finding = judged(grade(variables(sample=letter(1, letter="D"))), evidence)["findings"][0]

    assert ("pass", 1.65) == (finding["outcome"], finding["limits"]["k"])


def test_the_k_of_a_content_goes_by_the_number_of_readings() -> None:
    """90 % with 95 % confidence: k 3.407 for 5 readings, 4.162 for 4. Source: one-sided tolerance factors (CALC)."""
    specification = grade(variables(content=90, confidence=95))
    five, four = found(specification, series(*FIVE)), found(specification, series(*FIVE[:4]))

    assert ("fail", 3.407) == (five["outcome"], round(five["limits"]["k"], 3))
    assert 4.162 == round(four["limits"]["k"], 3)
    assert "; 5 values need at least 3.4066 for 90 % of the lot with 95 % confidence." in five["reasons"][0]["text"]


def test_a_known_sigma_stands_for_the_standard_deviation() -> None:
    """(195 − 180)/10 is 1.5, and one reading is enough to compare it with k."""
    specification = grade(variables(k=1.5, sigma=10))

    assert ("pass", 1.5, 0.0) == (
        (finding := found(specification, series(*FIVE)))["outcome"],
        finding["measured"]["value"],
        finding["margin"],
    )
    assert "fail" == found(specification, series(194))["outcome"]
    assert "pass" == found(specification, series(195))["outcome"]


def test_a_content_with_known_sigma_has_its_own_factor() -> None:
    """z(0.95) + z(0.95)/√10 = 1.64485 × 1.31623 = 2.1650 (standard normal quantile to five decimals)."""
    readings = [200.0] * 10
    finding = found(grade(variables(content=95, confidence=95, sigma=9.2379)), series(*readings))

    assert 2.165 == finding["limits"]["k"]
    assert "fail" == finding["outcome"]


def test_two_limits_are_each_held_by_k_where_the_grade_says_so() -> None:
    """The upper side is the nearer one here: (201 − 195)/√77.5 = 0.68."""
    both = {"lower": 180, "upper": 201}
    finding = found(grade(variables(limits=both, each_by_k=True, sample=letter(1, letter="D"))), series(*FIVE))

    assert ("fail", 0.68155) == (finding["outcome"], round(finding["measured"]["value"], 5))


FLAWS = [
    (
        variables(),
        Flaw(
            "missing-field",
            ("The `k` to accept by is missing. Give it, or a `content` with a `confidence`, or a plan by variables."),
            f"{AT}/k",
        ),
    ),
    (
        variables(k=1, content=90, confidence=95),
        Flaw(
            "k-in-two-ways",
            "`k` is given, so it is not calculated. Remove `content` and `confidence`, or `k`.",
            f"{AT}/content",
        ),
    ),
    (
        variables(k=1, sample=letter(1, letter="D")),
        Flaw(
            "k-in-two-ways",
            "The sample's plan has its own k. Remove `k`, or use a sample that is only a size.",
            f"{AT}/k",
        ),
    ),
    (
        variables(content=90),
        Flaw("missing-field", "`content` needs a `confidence`, which is missing. Add it.", f"{AT}/confidence"),
    ),
    (
        variables(limits={"lower": 1, "upper": 2}, content=90, confidence=95),
        Flaw(
            "each-by-k",
            (
                "This k is made for one limit, and there are two. "
                "Set `each_by_k` to true to compare both with it, or remove one limit."
            ),
            f"{AT}/each_by_k",
        ),
    ),
    (
        variables(limits={"nominal": 5, "minus": 1, "plus": 1, "tolerance": "absolute"}, sample=letter(1, letter="D")),
        Flaw(
            "each-by-k",
            (
                "This k is made for one limit, and there are two. "
                "Set `each_by_k` to true to compare both with it, or remove one limit."
            ),
            f"{AT}/each_by_k",
        ),
    ),
    (
        variables(sigma=3, sample=letter(1, letter="D")),
        Flaw(
            "sigma-not-here",
            "The k of the plan is for an unknown standard deviation. Remove `sigma`, or give `k` or a `content`.",
            f"{AT}/sigma",
        ),
    ),
]


@pytest.mark.parametrize(("requirement", "flaw"), FLAWS)
def test_a_k_has_one_origin(requirement: Document, flaw: Flaw) -> None:
    """Two numbers to accept by would be two answers."""
    assert [flaw] == flaws_of(grade(requirement))


def test_a_sample_of_one_will_do_where_sigma_is_known() -> None:
    """No spread is worked out, so one reading is no flaw of the grade."""
    assert [] == flaws_of(grade(variables(k=1, sigma=2), of={**FORCE, "sample": fixed(1)}))
    assert ["sample-too-small"] == [flaw.code for flaw in flaws_of(grade(variables(k=1), of={**FORCE, "sample": fixed(1)}))]


def test_readings_that_are_all_equal_are_judged_by_the_limits() -> None:
    """With s = 0 nothing is divided: 180 is within, 179 is not (reference V3; CALC)."""
    specification = grade(variables(sample=letter(1, letter="D")))

    assert "pass" == found(specification, series(180, 180, 180, 180, 180))["outcome"]
    assert "fail" == found(specification, series(179, 179, 179, 179, 179))["outcome"]
