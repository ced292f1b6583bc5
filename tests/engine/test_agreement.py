"""The engine and the simple judge agree: in outcome, value, margin, the value before rounding, and what is missing."""

from random import Random

import pytest
from msgspec import to_builtins

from tests.support.engine_answers import Document, answer_to, verdict_on
from tests.support.lots import Lot, lot_at_the_edge, turned_lot
from tests.support.simple_judge import Simple, check_simply, differences_simply, judge_simply, verdict_simply
from tests.support.sizes import AGREEMENT, of_two

BATCHES = 8


def differences(finding: Document, simple: Simple) -> list[str]:
    """In what a finding of the engine differs from the simple one; nothing where they agree."""
    measured = finding.get("measured", {})
    found = {
        "outcome": (finding["outcome"], simple.outcome),
        "margin": (finding.get("margin"), simple.margin),
        "missing": (finding.get("missing", []), [each._asdict() for each in simple.missing]),
    }
    if simple.outcome != "undecided":
        found["outside"] = (measured.get("outside"), simple.outside if measured else None)
        found["allowed"] = (measured.get("allowed"), simple.allowed if measured else None)
    wrong = [
        f"{name}: the engine says {ours}, the simple judge {theirs}" for name, (ours, theirs) in found.items() if ours != theirs
    ]
    value = (measured.get("value"), measured.get("observed"))
    if simple.outcome != "undecided" and value not in [*simple.measured, *([] if simple.measured else [(None, None)])]:
        wrong.append(f"measured: the engine says {value}, the simple judge one of {simple.measured[:5]}")
    return wrong


def disagreements(lot: Lot) -> list[str]:
    """In what the two verdicts on a lot differ, finding by finding."""
    verdict = to_builtins(verdict_on(*lot))
    simple = judge_simply(*lot)
    overall = verdict_simply(lot.specification, simple)
    wrong = (
        [] if verdict["outcome"] == overall else [f"outcome: the engine says {verdict['outcome']}, the simple judge {overall}"]
    )
    return wrong + [
        f"{finding['requirement']}: {difference}"
        for finding in verdict["findings"]
        for difference in differences(finding, simple[finding["requirement"]])
    ]


@pytest.mark.parametrize("batch", range(BATCHES))
def test_the_engine_agrees_with_the_simple_judge(batch: int) -> None:
    """A buyer who works a lot out by hand, exactly, finds the outcome and every figure that the verdict gives."""
    for seed in range(batch, AGREEMENT, BATCHES):
        assert (seed, []) == (seed, disagreements(lot_at_the_edge(Random(seed))))


@pytest.mark.parametrize("seed", range(of_two(8, 24)))
def test_many_different_readings_turned_round_agree(seed: int) -> None:
    """A sum of hundreds of reciprocals has thousands of digits, and its mean still lies on one side of its limit."""
    lot = turned_lot(Random(seed), 280)

    assert not disagreements(lot)


def test_sums_beyond_a_machine_word_agree() -> None:
    """Ten thousand readings of fifteen digits add up to more than 2**63 in their last place, and no digit is lost."""
    values = [999999999999.999, 999999999999.998] * 5000
    specification = {
        "characteristics": [{"name": "net_mass", "unit": "g"}],
        "requirements": [
            {"id": "mean", "kind": "mean", "of": "net_mass", "limits": {"lower": 999999999999.9985}},
            {"id": "s", "kind": "spread", "of": "net_mass", "statistic": "standard_deviation", "at_most": 0.0005},
        ],
    }
    series = [{"characteristic": "net_mass", "unit": "g", "values": values}]

    assert not disagreements(Lot(specification, {"lot": {"id": "L-1"}, "series": series}))


@pytest.mark.parametrize("batch", range(BATCHES))
def test_checks_of_one_reading_agree_with_the_simple_judge(batch: int) -> None:
    """A station's light is green exactly where the grade lets one reading pass, and tells how far off a mean it lies."""
    for seed in range(batch, AGREEMENT // 4, BATCHES):
        lot = lot_at_the_edge(Random(seed))
        for series in lot.evidence["series"][:1]:
            reading = {key: series[key] for key in ("characteristic", "unit")} | {"grade": "G", "value": series["values"][0]}
            answer = to_builtins(answer_to(lot.specification, reading))
            apart = {each["requirement"]: each["difference"] for each in answer["with_others"] if each["kind"] == "mean"}

            assert (seed, check_simply(lot.specification, reading)) == (seed, answer["outcome"])
            assert (seed, differences_simply(lot.specification, reading)) == (seed, apart)
