"""A portion of lots that are judged again: what is told of each, and what is counted."""

import json
import pickle
from typing import Any

import msgspec
import pytest

from service.engine.documents import Evidence, Outcome
from service.engine.grade import Specification, compile_specification
from service.engine.impact import JudgedLot, Portion, Tally, judge_again
from service.engine.impact.documents import LotCount, RequirementCounts, RequirementImpact
from service.engine.judging import judge
from tests.support.grades import FORCE, RUNNAGE, each, grade, lot, mean, series

PASS, UNDECIDED, FAIL = Outcome.PASS, Outcome.UNDECIDED, Outcome.FAIL
BEFORE = grade(mean(id="strength", lower=300))
TIGHTER = grade(mean(id="strength", lower=310))


def judged(specification: Any, *values: float, name: str = "A", of: Any = None) -> JudgedLot:
    """A lot with these breaking forces in newtons, as the ledger keeps it after a verdict by this specification."""
    evidence = msgspec.json.encode({**lot(of or series(*values)), "lot": {"id": name}})
    compiled = compile_specification(msgspec.convert(specification, Specification))
    verdict = msgspec.json.encode(judge(compiled, msgspec.json.decode(evidence, type=Evidence)))
    return JudgedLot(lot=name, number=1, evidence=evidence, verdict=verdict)


def portion(specification: Any, *lots: JudgedLot) -> Portion:
    """These lots, to be judged by the specification."""
    return Portion(json.dumps(specification).encode(), lots)


def test_a_lot_between_the_limits_would_fail_by_the_tighter_one() -> None:
    """(305 + 309) / 2 is 307 N: more than 300, less than 310; on the new limit itself a lot passes."""
    lots = [judged(BEFORE, *values, name=name) for name, values in {"A": (305, 309), "B": (310,), "C": (299,)}.items()]
    weighed = judge_again(portion(TIGHTER, *lots))

    assert [("A", PASS, FAIL)] == [(each.lot, each.then, each.now) for each in weighed.changed]
    assert [RequirementImpact(requirement="strength", then=PASS, now=FAIL)] == weighed.changed[0].requirements
    counts = [
        LotCount(then=PASS, now=PASS, lots=1),
        LotCount(then=PASS, now=FAIL, lots=1),
        LotCount(then=FAIL, now=FAIL, lots=1),
    ]
    assert (3, 1, 0, counts) == (weighed.tally.judged, weighed.tally.changed, weighed.tally.flawed, weighed.tally.of_lots())
    assert [RequirementCounts(requirement="strength", outcomes=counts)] == weighed.tally.of_requirements()


def test_a_requirement_that_a_lot_passes_is_news_in_the_counts_alone() -> None:
    """A further requirement changes the lots that fail it; who passes it stays as he was."""
    further = grade(mean(id="strength", lower=300), each(id="single", lower=290))
    weighed = judge_again(portion(further, judged(BEFORE, 310, 300, name="A"), judged(BEFORE, 340, 280, name="B")))

    assert [("B", PASS, FAIL, [RequirementImpact(requirement="single", now=FAIL)])] == [
        (each.lot, each.then, each.now, each.requirements) for each in weighed.changed
    ]
    assert (
        RequirementCounts(requirement="single", outcomes=[LotCount(now=PASS, lots=1), LotCount(now=FAIL, lots=1)])
        == (weighed.tally.of_requirements()[1])
    )


def test_a_requirement_that_the_revision_has_not_any_more_is_named() -> None:
    """A lot that failed by it alone passes now; the others do not change."""
    both = grade(mean(id="strength", lower=300), each(id="single", lower=290))
    weighed = judge_again(portion(BEFORE, judged(both, 310, 300, name="A"), judged(both, 340, 280, name="B")))

    assert [("B", FAIL, PASS, [RequirementImpact(requirement="single", then=FAIL)])] == [
        (each.lot, each.then, each.now, each.requirements) for each in weighed.changed
    ]
    assert (
        RequirementCounts(requirement="single", outcomes=[LotCount(then=PASS, lots=1), LotCount(then=FAIL, lots=1)])
        == (weighed.tally.of_requirements()[1])
    )


def test_what_binds_otherwise_tells_why_the_lot_comes_out_otherwise() -> None:
    """The requirement itself fails as before."""
    loose = grade(mean(id="strength", lower=300, binding=False), each(id="single", lower=100))
    strict = grade(mean(id="strength", lower=300), each(id="single", lower=100))
    changed = judge_again(portion(strict, judged(loose, 299), judged(loose, 301))).changed

    difference = RequirementImpact(requirement="strength", then=FAIL, now=FAIL, binding_then=False, binding_now=True)
    assert [(PASS, FAIL, [difference])] == [(each.then, each.now, each.requirements) for each in changed]


def test_a_requirement_that_binds_nothing_changes_a_lot_whose_outcome_stays() -> None:
    """Whoever tries a requirement out wants to see whom it would hit."""
    tried = [grade(each(id="single", lower=100), mean(id="tried", lower=limit, binding=False)) for limit in (300, 310)]
    changed = judge_again(portion(tried[1], judged(tried[0], 305))).changed

    assert [(PASS, PASS, [RequirementImpact(requirement="tried", then=PASS, now=FAIL)])] == [
        (each.then, each.now, each.requirements) for each in changed
    ]


def test_evidence_that_the_revision_cannot_judge_is_told_with_its_flaws() -> None:
    """A characteristic was left out of the draft: no outcome is made up, and the lot is counted apart."""
    without = grade(mean(id="length", lower=1, of="runnage"), of=RUNNAGE)
    weighed = judge_again(portion(without, judged(BEFORE, 320, name="A")))
    told = msgspec.to_builtins(weighed.changed[0])

    assert ("A", "pass", ["unknown-characteristic"]) == (told["lot"], told["then"], [each["code"] for each in told["flaws"]])
    assert not {"now", "requirements", "more_flaws"} & set(told)
    assert (1, 1, 1, []) == (
        weighed.tally.judged,
        weighed.tally.changed,
        weighed.tally.flawed,
        weighed.tally.of_lots(),
    )


def test_at_most_ten_flaws_of_a_lot_are_told_and_the_others_counted() -> None:
    """A draft without ten characteristics would fill the answer with the same lines for each lot."""
    names = [f"own_{number}" for number in range(13)]
    own = [{"name": name, "quantity": "force", "unit": "N"} for name in names]
    wide = grade(each(lower=1), of=[FORCE, *own])
    evidence = msgspec.json.encode(
        {"lot": {"id": "A"}, "series": [series(2, of=one) for one in [FORCE, *own]]},
    )
    compiled = compile_specification(msgspec.convert(wide, Specification))
    verdict = msgspec.json.encode(judge(compiled, msgspec.json.decode(evidence, type=Evidence)))
    kept = JudgedLot(lot="A", number=1, evidence=evidence, verdict=verdict)
    changed = judge_again(portion(grade(each(lower=1)), kept)).changed[0]

    assert (10, 3) == (len(changed.flaws or ()), changed.more_flaws)


def test_a_portion_gives_the_same_wherever_it_is_done() -> None:
    """It travels as bytes, there and back."""
    work = portion(TIGHTER, judged(BEFORE, 305, name="A"), judged(BEFORE, 320, name="B"))
    there = pickle.loads(pickle.dumps(work))  # noqa: S301  our own bytes

    assert judge_again(work) == pickle.loads(pickle.dumps(judge_again(there)))  # noqa: S301  our own bytes


@pytest.mark.parametrize("size", [1, 2, 7])
def test_portions_add_up_to_the_whole(size: int) -> None:
    """However lots are cut into portions, the sum is that of all at once."""
    lots = [judged(BEFORE, 295 + 3 * number, name=f"A{number}") for number in range(7)]
    whole, sum_of_parts = judge_again(portion(TIGHTER, *lots)).tally, Tally()
    for start in range(0, len(lots), size):
        sum_of_parts.add_all(judge_again(portion(TIGHTER, *lots[start : start + size])).tally)

    # 295 and 298 fail by both, 301, 304 and 307 by the tighter one alone, 310 and 313 by none.
    assert [(PASS, PASS, 2), (PASS, FAIL, 3), (FAIL, FAIL, 2)] == [
        (each.then, each.now, each.lots) for each in sum_of_parts.of_lots()
    ]
    assert whole == sum_of_parts
