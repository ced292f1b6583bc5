"""Readings by another method than the grade's decide nothing."""

import json

import msgspec
import pytest

from service.engine.checking import judge_reading
from service.engine.documents import Check
from tests.support.grades import EFFICIENCY, FORCE, KNOT_FORCE, Document, each, grade, mean, series
from tests.support.judging import compiled, found

BY_TRAVERSE: Document = {**FORCE, "method": "constant rate of traverse"}


def by(method: str | None, *values: float) -> Document:
    """A series taken by this method, or one that tells none."""
    return series(*values) if method is None else {**series(*values), "method": method}


def test_readings_by_the_method_asked_for_are_judged() -> None:
    """The ordinary case."""
    assert "pass" == found(grade(mean(lower=1), of=BY_TRAVERSE), by("constant rate of traverse", 5))["outcome"]


def test_readings_by_another_method_decide_nothing() -> None:
    """Values of rope tables hold for machines with a constant rate of traverse only (ISO 2307:2010, scope, SEEN)."""
    finding = found(grade(each(lower=1), of=BY_TRAVERSE), by("constant rate of loading", 5))

    assert "undecided" == finding["outcome"]
    assert [
        {
            "code": "other-method",
            "text": (
                "The breaking force was measured by `constant rate of loading`, and the grade asks for `constant "
                "rate of traverse`. Measure by that method, and send it in `method`."
            ),
            "with": {"asked": "constant rate of traverse", "method": "constant rate of loading"},
            "rule": "/characteristics/0/method",
            "at": ["/series/0"],
            "at_total": 1,
        }
    ] == finding["reasons"]


def test_a_series_that_tells_no_method_decides_nothing_where_one_is_asked_for() -> None:
    """What is not told is not known; neither a pass nor a failure comes of it."""
    finding = found(grade(each(lower=10), of=BY_TRAVERSE), by("constant rate of traverse", 12), by(None, 5))

    assert ("undecided", "other-method") == (finding["outcome"], finding["reasons"][0]["code"])
    assert ["/series/1"] == finding["reasons"][0]["at"]
    assert (
        "The breaking force came without its method, and the grade asks for `constant rate of traverse`. "
        "Measure by that method, and send it in `method`."
    ) == finding["reasons"][0]["text"]


def test_a_method_that_nobody_asks_for_is_no_matter() -> None:
    """A laboratory may say how it tests."""
    assert "pass" == found(grade(mean(lower=1)), by("by hand", 5))["outcome"]


def test_another_method_reaches_what_is_derived() -> None:
    """A quotient of a good reading and one by another method is no good one."""
    finding = found(grade(mean(lower=1), of=[EFFICIENCY, KNOT_FORCE, BY_TRAVERSE]), series(3, of=KNOT_FORCE), by(None, 5))

    assert ("undecided", "other-method") == (finding["outcome"], finding["reasons"][0]["code"])


def test_a_series_whose_readings_are_all_struck_need_not_tell_its_method() -> None:
    """Nothing of it stands."""
    struck = {**by(None, 5), "remarks": ["struck"]}

    assert "pass" == found(grade(mean(lower=1), of=BY_TRAVERSE), struck, by("constant rate of traverse", 5))["outcome"]


def test_every_doubt_is_told_at_once() -> None:
    """Nobody wants to hear of the second only when the first is mended; what may be mistyped stands first."""
    of = {**BY_TRAVERSE, "plausible": {"lower": 3}}
    finding = found(grade(mean(lower=1), of=of), {**by(None, 2, 5), "remarks": ["", "slipped"]})

    assert ["implausible", "other-method", "remark-without-rule"] == [reason["code"] for reason in finding["reasons"]]


@pytest.mark.parametrize(
    ("told", "outcome", "codes"),
    [
        ({"method": "constant rate of traverse"}, "pass", []),
        ({"method": "by hand"}, "undecided", ["other-method"]),
        ({}, "undecided", ["other-method"]),
    ],
)
def test_a_check_tells_its_method_too(told: Document, outcome: str, codes: list[str]) -> None:
    """A green light for a reading of unknown making could be a wrong one."""
    check = {"grade": "TB-130", "characteristic": "breaking_force", "unit": "N", "value": 5, **told}
    answer = judge_reading(compiled(grade(each(lower=1), of=BY_TRAVERSE)), msgspec.json.decode(json.dumps(check), type=Check))

    assert outcome == answer.outcome
    assert codes == [reason.code for reason in answer.reasons or ()]
