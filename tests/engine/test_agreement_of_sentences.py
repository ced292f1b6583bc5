"""What a sentence shows agrees with the simple judge: each figure lies on the value's true side of its limit."""

import re
from fractions import Fraction
from random import Random
from typing import NamedTuple

import pytest
from msgspec import to_builtins

from tests.support.engine_answers import Document, verdict_on
from tests.support.lots import Lot, lot_at_the_edge
from tests.support.simple_judge import Simple, judge_simply
from tests.support.sizes import AGREEMENT

BATCHES = 8
NUMBER = r"-?\d+(?:\.\d+)?"
QUOTED = re.compile(r"`[^`]*`")
ZERO_AT_THE_END = re.compile(r"\d\.\d*0(?!\d)")
PLACED = re.compile(
    rf"(?P<value>{NUMBER})(?: [^\s,]+)?, (?:which )?is (?:exactly|(?P<apart>{NUMBER}) (?:\S+ ){{0,2}}?(?P<side>above|below))"
    rf"(?: on)? (?P<limit>the [^\d-]*)(?P<figure>{NUMBER})"
)
"""`1392.4 N, is 7.6 N below the lower limit of 1400 N`"""
DEVIATIONS = re.compile(rf"lies (?:exactly )?(?P<value>{NUMBER}) standard deviations? (?P<side>above|below) (?P<limit>the \w+)")
LEAST = re.compile(rf"at least (?P<figure>{NUMBER})")
FAILED = {"below-lower", "above-upper", "too-many-outside", "beyond-outer", "above-at-most", "quality-below-k"}


class Shown(NamedTuple):
    """A value in a sentence, what it is compared with, and whether that is a least value."""

    value: Fraction
    limit: Fraction
    is_least: bool

    @property
    def inside(self) -> Fraction:
        """How far the figure lies inside the limit's figure; negative outside."""
        return self.value - self.limit if self.is_least else self.limit - self.value


def shown_in(text: str) -> Shown | None:
    """The value of a sentence beside its limit; None where it has none."""
    if found := DEVIATIONS.search(text):
        is_inside = (found["side"] == "above") == (found["limit"] == "the lower")
        least = LEAST.search(text)
        assert least, text
        return Shown(Fraction(found["value"]) * (1 if is_inside else -1), Fraction(least["figure"]), is_least=True)
    found = PLACED.search(text)
    return found and Shown(Fraction(found["value"]), Fraction(found["figure"]), is_least=" lower " in found["limit"])


def disagreements(finding: Document, simple: Simple) -> list[str]:
    """The sentences of a finding of which a figure contradicts the simple judge."""
    wrong = []
    for reason in finding["reasons"]:
        text, shown = QUOTED.sub("", reason["text"]), shown_in(reason["text"])
        if ZERO_AT_THE_END.search(text):
            wrong.append(f"a zero at the end: {text}")
        if shown is None:
            continue
        is_met, is_exact = reason["code"] not in FAILED, "exactly" in text
        if is_met != (shown.inside >= 0) or is_exact != (shown.inside == 0):
            wrong.append(f"another side than {reason['code']}: {text}")
        if simple.outcome == "pass" and simple.margin is not None and is_exact != (simple.margin == 0):
            wrong.append(f"exactly, where the margin is {simple.margin}: {text}")
        if reason["code"] != "beyond-outer" and len(finding["reasons"]) == 1 and not measures(shown.value, finding):
            wrong.append(f"another value than {finding['measured']}: {text}")
    return wrong


def measures(figure: Fraction, finding: Document) -> bool:
    """Whether the figure is that of the measured value, which has a double's digits; a lot without spread has none."""
    if "value" not in finding.get("measured", {}):
        return True
    decimals = len(str(float(figure)).partition(".")[2])
    value = Fraction(finding["measured"]["value"])
    return bool(abs(figure - value) <= Fraction(51, 100) / 10 ** min(decimals, 15) + abs(value) / 10**15)


@pytest.mark.parametrize("batch", range(BATCHES))
def test_a_figure_lies_on_the_true_side_of_its_limit(batch: int) -> None:
    """Who reads 1400 beside a limit of 1400 on a lot that failed believes neither the sentence nor the verdict."""
    shown = 0
    for seed in range(batch, AGREEMENT // 4, BATCHES):
        lot: Lot = lot_at_the_edge(Random(seed))
        simple = judge_simply(*lot)
        for finding in to_builtins(verdict_on(*lot))["findings"]:
            assert (seed, []) == (seed, disagreements(finding, simple[finding["requirement"]]))
            shown += sum(shown_in(reason["text"]) is not None for reason in finding["reasons"])

    # The sentences are read by their form: were it to change, nothing would be compared any more.
    assert shown > AGREEMENT // 4 // BATCHES


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (
            "The mean twist, 35.9 turn/m, is 0.1 turn/m below the lower limit of 36 turn/m.",
            Shown(Fraction("35.9"), Fraction(36), is_least=True),
        ),
        ("It, 4 kN, which is 9 lbf, is exactly on the upper limit of 9 lbf.", Shown(Fraction(9), Fraction(9), is_least=False)),
        ("The range, 2 N, is exactly the most allowed, 2 N.", Shown(Fraction(2), Fraction(2), is_least=False)),
        (
            "The mean a lies 0.5 standard deviations below the lower limit of 5 N; the grade asks for at least 2.",
            Shown(Fraction("-0.5"), Fraction(2), is_least=True),
        ),
        ("All 2 readings of twist are within the limits.", None),
    ],
)
def test_a_sentence_is_read_by_its_form(text: str, expected: Shown | None) -> None:
    """The comparison above rests on what is read here."""
    assert expected == shown_in(text)
