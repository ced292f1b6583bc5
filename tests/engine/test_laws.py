"""Laws that hold for every lot: what may change nothing changes nothing, and what a verdict says agrees with itself."""

import re
import subprocess
import sys
from copy import deepcopy
from decimal import Decimal
from pathlib import Path
from random import Random
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from msgspec import to_builtins

from tests.support.engine_answers import Document, answer_to, verdict_on
from tests.support.exact import FACTORS, converted, exact
from tests.support.lots import Lot, lot_at_the_edge, lots

SEVERITY = {"pass": 0, "undecided": 1, "fail": 2}
NUMERAL = r"-?\d+(?:\.\d+)?"
COMPARED = re.compile(
    rf", (?:rounded to )?(?P<figure>{NUMERAL})[^,]*, is (?P<distance>{NUMERAL}) "
    rf".*?(?P<side>above|below) .*?(?P<limit>{NUMERAL})[^ ]*( [^ ]+)?\.$"
)
"""`…, 1392.4 N, is 7.6 N below the lower limit of 1400 N.`"""
EXACTLY = re.compile(rf", (?:rounded to )?(?P<figure>{NUMERAL})[^,]*, is exactly .*?(?P<limit>{NUMERAL})( [^ ]+)?\.$")
ROOT = Path(__file__).parents[2]
repeatable = settings(derandomize=True, deadline=None, max_examples=300)


def figures(specification: Document, evidence: Document) -> list[tuple[object, ...]]:
    """What findings say of the numbers, wherever the readings stand in the document."""
    findings = to_builtins(verdict_on(specification, evidence).findings)
    kept = ("requirement", "outcome", "margin", "missing", "limits")
    return [(*(each.get(name) for name in kept), measured_of(each)) for each in findings]


def measured_of(finding: Document) -> object:
    """The measured value of a finding, but not which of several equally far ones an `each` has picked."""
    measured = dict(finding.get("measured", {}))
    if finding["kind"] == "each":
        measured.pop("value", None)
        measured.pop("observed", None)
    return measured


def each_order(evidence: Document, rng: Random) -> dict[str, Any]:
    """The same evidence with series, and readings with their packages, in another order."""
    mixed = deepcopy(dict(evidence))
    for series in mixed["series"]:
        order = list(range(len(series["values"])))
        rng.shuffle(order)
        for column in {"values", "packages", "remarks"} & set(series):
            series[column] = [series[column][place] for place in order]
    rng.shuffle(mixed["series"])
    return mixed


def is_paired(lot: Lot) -> bool:
    """Whether readings are paired by their order, which then means something."""
    return any(each.get("derived", {}).get("kind") == "ratio" for each in lot.specification["characteristics"])


@repeatable
@given(lot=lots, rng=st.randoms())
def test_the_order_of_readings_changes_nothing(lot: Lot, rng: Random) -> None:
    """A lot is not better for being tested in another order."""
    assume(not is_paired(lot))

    assert figures(*lot) == figures(lot.specification, each_order(lot.evidence, rng))


@repeatable
@given(lot=lots, at=st.integers(min_value=0, max_value=40))
def test_splitting_a_series_changes_nothing(lot: Lot, at: int) -> None:
    """A station that sends its readings in two parts sends the same readings."""
    split = deepcopy(lot.evidence)
    split["series"] = [part for series in lot.evidence["series"] for part in parts(series, at)]

    assert figures(*lot) == figures(lot.specification, split)


@repeatable
@given(lot=lots, rng=st.randoms())
def test_a_struck_reading_is_as_if_it_had_not_been_sent(lot: Lot, rng: Random) -> None:
    """What is crossed out in the book counts for nothing, whatever was written there."""
    with_struck = deepcopy(dict(lot.evidence))
    for series in with_struck["series"]:
        strike_some_more(series, rng)

    assert figures(*lot) == figures(lot.specification, with_struck)


def strike_some_more(series: dict[str, Any], rng: Random) -> None:
    """Up to three more readings anywhere in the series, all of them struck."""
    series["remarks"] = [rng.choice(["", "confirmed"]) for _ in series["values"]]
    for _ in range(rng.randint(0, 3)):
        place = rng.randint(0, len(series["values"]))
        series["values"].insert(place, rng.choice([0, -1, 1e300, 1.5]))
        series["remarks"].insert(place, "struck")
        if "packages" in series:
            series["packages"].insert(place, "p1")


@repeatable
@given(lot=lots, rng=st.randoms())
def test_the_order_of_remarked_readings_changes_nothing(lot: Lot, rng: Random) -> None:
    """A slip or a break outside the marks bears on its own reading, wherever that stands."""
    assume(not is_paired(lot))
    specification, evidence = deepcopy(dict(lot.specification)), deepcopy(dict(lot.evidence))
    for characteristic in specification["characteristics"]:
        if characteristic["name"] == "breaking_force":
            characteristic["remarks"] = {"leave_out": ["slipped"], "passes_outside_marks_at": {"percent": 90}}
    for series in evidence["series"]:
        if series["characteristic"] == "breaking_force":
            series["remarks"] = [rng.choice(["", "", "slipped", "struck", "broke_outside_marks"]) for _ in series["values"]]

    assert figures(specification, evidence) == figures(specification, each_order(evidence, rng))


@repeatable
@given(lot=lots)
def test_an_implausible_reading_decides_nothing(lot: Lot) -> None:
    """No lot and no reading is passed, or refused, on a number that somebody may have mistyped."""
    assume(all(1e-3 < value < 1e5 for series in lot.evidence["series"] for value in series["values"]))
    specification = deepcopy(dict(lot.specification))
    for characteristic in specification["characteristics"]:
        if "unit" in characteristic and "derived" not in characteristic:
            characteristic["plausible"] = {"lower": 1e12}
    sent = {series["characteristic"] for series in lot.evidence["series"] if series["values"]}
    for finding in verdict_on(specification, lot.evidence).findings:
        if finding.characteristic in sent and finding.kind != "declared":
            assert "undecided" == finding.outcome
            assert "implausible" == finding.reasons[0].code
    for series in lot.evidence["series"]:
        check = {"grade": "G", "characteristic": series["characteristic"], "unit": series["unit"], "value": series["values"][0]}

        assert "undecided" == answer_to(specification, check).outcome


def parts(series: Document, at: int) -> list[dict[str, Any]]:
    """A series in two, or as it is where it is too short."""
    if not 0 < at < len(series["values"]):
        return [dict(series)]
    columns = {"values", "packages"} & set(series)
    return [dict(series) | {name: series[name][cut] for name in columns} for cut in (slice(at), slice(at, None))]


@repeatable
@given(lot=lots, choice=st.randoms())
def test_changing_units_changes_nothing(lot: Lot, choice: Random) -> None:
    """A lot is as good in pounds-force as it is in newtons, where the numerals can say the same."""
    other = deepcopy(lot.evidence)
    for series in other["series"]:
        carry(series, choice)
    assume(other != lot.evidence)

    assert figures(*lot) == figures(lot.specification, other)


def carry(series: dict[str, Any], choice: Random) -> None:
    """Into a unit in which every reading has an exact numeral of its own, where there is one."""
    quantity = FACTORS[series["unit"]][0]
    units = [unit for unit, (its, _) in FACTORS.items() if its == quantity and unit != series["unit"]]
    choice.shuffle(units)
    for unit in units:
        values = [converted(exact(value), series["unit"], unit) for value in series["values"]]
        if all(exact(float(value)) == value and is_sendable(float(value)) for value in values):
            series.update({"unit": unit, "values": [float(value) for value in values]})
            return


def is_sendable(value: float) -> bool:
    """Within the range of numbers on the wire."""
    return value == 0 or 1e-9 <= abs(value) <= 1e12


@repeatable
@given(lot=lots)
def test_one_more_binding_requirement_never_rescues_a_lot(lot: Lot) -> None:
    """A grade that asks for more is not easier to meet."""
    outcomes = []
    for number in range(1, len(lot.specification["requirements"]) + 1):
        fewer = {**lot.specification, "requirements": lot.specification["requirements"][:number]}
        outcomes.append(SEVERITY[verdict_on(fewer, lot.evidence).outcome])

    assert sorted(outcomes) == outcomes


@repeatable
@given(lot=lots)
def test_the_sign_of_the_margin_agrees_with_the_outcome(lot: Lot) -> None:
    """A client that sorts by margin sorts by outcome; what is not decided has none."""
    for finding in to_builtins(verdict_on(*lot).findings):
        if "margin" not in finding:
            continue

        assert finding["outcome"] in {"pass", "fail"}
        assert (finding["outcome"] == "pass") == (finding["margin"] >= 0)


@repeatable
@given(lot=lots)
def test_figures_of_a_sentence_lie_on_their_true_side(lot: Lot) -> None:
    """Nobody reads that 1400.0 N is below 1400 N."""
    for finding in to_builtins(verdict_on(*lot).findings):
        for reason in finding["reasons"]:
            if compared := COMPARED.search(reason["text"]):
                figure, distance, limit = (Decimal(compared[name]) for name in ("figure", "distance", "limit"))

                assert distance > 0, reason["text"]
                assert compared["side"] == ("above" if figure > limit else "below"), reason["text"]
                assert figure != limit, reason["text"]
            elif exactly := EXACTLY.search(reason["text"]):
                assert Decimal(exactly["figure"]) == Decimal(exactly["limit"]), reason["text"]


@pytest.mark.parametrize("seed", [3, 7])
def test_two_processes_give_the_same_bytes(seed: int) -> None:
    """A verdict that is asked for again is the same document, whatever order a process keeps its sets in."""
    verdicts = {verdict_of_another_process(seed, hash_seed) for hash_seed in ("1", "2")}

    assert 1 == len(verdicts)


def verdict_of_another_process(seed: int, hash_seed: str) -> bytes:
    """The verdicts on ten lots, encoded, by a process with this hash seed."""
    program = (
        "from random import Random; from msgspec.json import encode; from tests.support.engine_answers import verdict_on;"
        "from tests.support.lots import lot_at_the_edge;"
        f"print([encode(verdict_on(*lot_at_the_edge(Random({seed} + place)))) for place in range(10)])"
    )
    environment = {"PYTHONHASHSEED": hash_seed, "PYTHONPATH": str(ROOT)}
    ran = subprocess.run([sys.executable, "-c", program], env=environment, cwd=ROOT, capture_output=True, check=True)
    return ran.stdout


def test_sentences_that_compare_are_read_whole() -> None:
    """The law on sentences would be empty if none of them were understood."""
    compared = COMPARED.search("The mean breaking force, 1392.4 N, is 7.6 N below the lower limit of 1400 N.")
    exactly = EXACTLY.search("The mean knot efficiency, rounded to 50 %, is exactly on the upper limit of 50 %.")

    assert compared
    assert exactly
    assert ("1392.4", "7.6", "below", "1400") == compared.group("figure", "distance", "side", "limit")
    assert ("50", "50") == exactly.group("figure", "limit")


def test_the_lots_reach_every_kind_and_outcome() -> None:
    """The laws would be empty if no lot passed or failed by some kind."""
    seen = {
        (finding.kind, str(finding.outcome))
        for seed in range(400)
        for finding in verdict_on(*lot_at_the_edge(Random(seed))).findings
    }

    assert {(kind, outcome) for kind in ("each", "mean", "spread", "variables", "declared") for outcome in SEVERITY} <= seen
