"""Documents that are nearly right: whatever a caller leaves out, swaps or mistypes, the answer is a verdict or flaws."""

import copy
import json
from contextlib import suppress
from pathlib import Path
from random import Random
from typing import Any

import pytest

from service.api.strict.decoding import Shape, decode
from service.engine.checking import judge_reading
from service.engine.documents import Check, Evidence, FlawedDocumentError, LotToDraw
from service.engine.drawing import what_to_draw
from service.engine.grade import CompiledGrade, Specification, compile_specification
from service.engine.judging import judge
from tests.contract.standard_cases import all_standard_cases
from tests.support.sizes import of_two

BUYERS = Path(__file__).parents[2] / "openapi" / "buyers"
SPECIFICATION, EVIDENCE, CHECK, LOT = Shape(Specification), Shape(Evidence), Shape(Check), Shape(LotToDraw)
VALUES: list[Any] = [0, 1, 2, -1, 0.5, 100, 1e12, 1e-9, "", "x", "packages", True, [], {}, "breaking_force", "mean", "N", "%"]
SEEDS = range(of_two(10, 40))
MUTANTS_A_SEED = 60


def documents() -> list[tuple[dict[str, Any], dict[str, Any]]]:
    """(specification, evidence) of the three buyers and of the standards' cases."""
    found = []
    for path in sorted(BUYERS.glob("*.json")):
        document = json.loads(path.read_text(encoding="utf-8"))
        found += [(document["specification"], lot["evidence"]) for lot in document["lots"]]
    cases = [case.body for case in all_standard_cases() if case.path == "/v1/verdicts"]
    return found + [(body["against"]["specification"], body["evidence"]) for body in cases]


def mutate(rng: Random, document: dict[str, Any]) -> dict[str, Any]:
    """The same with one to three members left out, swapped, doubled or given another value."""
    mutant = copy.deepcopy(document)
    for _ in range(rng.randint(1, 3)):
        holder: Any = mutant
        while True:
            keys = list(holder) if isinstance(holder, dict) else list(range(len(holder)))
            if not keys:
                break
            key = rng.choice(keys)
            if isinstance(holder[key], dict | list) and holder[key] and rng.random() < 0.8:
                holder = holder[key]
                continue
            change(rng, holder, key)
            break
    return mutant


def change(rng: Random, holder: Any, key: Any) -> None:
    """One change at one place."""
    way = rng.randrange(4)
    if way == 0:
        del holder[key]
    elif way == 1 and isinstance(holder, list):
        holder.append(copy.deepcopy(holder[key]))
    elif way == 2 and isinstance(holder[key], int | float) and not isinstance(holder[key], bool):
        holder[key] = rng.choice([0, -holder[key], holder[key] * 1000, holder[key] / 7, holder[key] + 1])
    else:
        holder[key] = rng.choice(VALUES)


def answered(specification: dict[str, Any], evidence: dict[str, Any], size: int) -> str:
    """How far the documents come; anything but flaws is raised."""
    try:
        grade = compile_specification(decode(json.dumps(specification).encode(), SPECIFICATION))
    except FlawedDocumentError:
        return "flawed grade"
    draw_and_check(grade, size)
    try:
        verdict = judge(grade, decode(json.dumps(evidence).encode(), EVIDENCE))
    except FlawedDocumentError:
        return "flawed evidence"
    assert all(finding.reasons for finding in verdict.findings)
    return str(verdict.outcome)


def draw_and_check(grade: CompiledGrade, size: int) -> None:
    """What to draw for it, and a reading of each characteristic; flaws will do."""
    what_to_draw(grade, decode(json.dumps({"size": size}).encode(), LOT))
    for name, of in grade.characteristics.items():
        check = {"grade": "G", "characteristic": name, "unit": of.symbol or "N", "value": 7}
        with suppress(FlawedDocumentError):
            judge_reading(grade, decode(json.dumps(check).encode(), CHECK))


@pytest.mark.parametrize("seed", SEEDS)
def test_whatever_is_nearly_right_is_answered(seed: int) -> None:
    """A line must not stop at a document that nobody thought of."""
    rng, pairs = Random(seed), documents()
    ends = set()
    for _ in range(MUTANTS_A_SEED):
        specification, evidence = rng.choice(pairs)
        if rng.random() < 0.6:
            specification = mutate(rng, specification)
        if rng.random() < 0.6:
            evidence = mutate(rng, evidence)
        ends.add(answered(specification, evidence, rng.choice([1, 2, 100, 5000])))

    assert {"flawed grade", "flawed evidence"} <= ends
