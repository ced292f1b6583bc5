"""What a verdict says to switching, class by class."""

import json

import msgspec

from service.engine.documents import Evidence
from service.engine.judging import judge
from service.engine.lot import lot_size_of
from service.engine.switching import results_of
from service.engine.switching.following import Inspected
from tests.support.counted import attributes, count, look_grade, looked_over
from tests.support.grades import Document, grade, lot, series, variables
from tests.support.judging import compiled

J: Document = {"plan": "code_letter", "table": "MIL-STD-105E", "letter": "J", "aql": 2.5}
"""80 packages, 5/6; reduced 32, 2/5. Source: MIL-STD-105E Tables II-A and II-C (SEEN)."""
MAJOR, MINOR = ("class", "major"), ("class", "minor")


def results(specification: Document, evidence: Document) -> dict[tuple[str, str], Inspected]:
    """By sort and name."""
    held, told = compiled(specification), msgspec.json.decode(json.dumps(evidence), type=Evidence)
    found = results_of(held.requirements, judge(held, told).findings, told.lot.id, lot_size_of(told.lot))
    return {(subject.sort, subject.name): outcome for subject, outcome in found.items()}


def test_each_class_has_its_own_outcome() -> None:
    """A lot that fails in one class is accepted in the other; fixed samples switch nothing."""
    specification = look_grade(
        attributes(None, sample=J), {**attributes(None, sample=J), "class": "minor"}, {**attributes(), "class": "other"}
    )
    evidence = looked_over(count(80, 6), count(80, 5, of="minor"), count(80, 0, of="other"))

    assert {
        MAJOR: Inspected(lot="L-1", inspection="normal", accepted=False),
        MINOR: Inspected(lot="L-1", inspection="normal", accepted=True),
    } == results(specification, evidence)


def test_acceptance_in_the_gap_is_told() -> None:
    """It ends reduced inspection."""
    evidence = looked_over(count(32, 3), inspections=[{"class": "major", "inspection": "reduced"}])

    assert {MAJOR: Inspected(lot="L-1", inspection="reduced", accepted=True, in_gap=True)} == results(
        look_grade(attributes(None, sample=J)), evidence
    )


def test_a_class_that_is_not_decided_says_nothing() -> None:
    """Half a sample accepts nothing and rejects nothing."""
    assert {} == results(look_grade(attributes(None, sample=J)), looked_over(count(40, 0)))


def test_a_lot_that_a_retest_passed_was_rejected_on_original_inspection() -> None:
    """MIL-STD-105E, 4.7.1, counts original inspection alone (SEEN)."""
    specification = look_grade(attributes(None, sample=J, retest={"sample": J, "judge": "second"}))
    evidence = looked_over(count(80, 6), count(80, 0, stage=2))

    assert {MAJOR: Inspected(lot="L-1", inspection="normal", accepted=False)} == results(specification, evidence)


def test_where_two_requirements_count_a_class_both_must_accept() -> None:
    """One class is switched once."""
    of_occurrences = attributes(None, sample=J, counting="occurrences")
    evidence = looked_over(count(80, 1, by_package=[7] + 79 * [0], occurrences=7))

    assert {MAJOR: Inspected(lot="L-1", inspection="normal", accepted=False)} == results(
        look_grade(attributes(None, sample=J), of_occurrences), evidence
    )


def test_acceptance_by_variables_goes_by_its_requirement() -> None:
    """Q = 15/√77.5 = 1.70 meets 1.53 (MIL-STD-414 Table B-1, letter D at 1.0); a given k switches nothing."""
    plan: Document = {"plan": "code_letter", "table": "MIL-STD-414", "letter": "D", "aql": 1}
    specification = grade(variables(None, lower=180, sample=plan), variables(1.5, lower=180))

    assert {("requirement", "r0"): Inspected(lot="L-1", inspection="normal", accepted=True)} == results(
        specification, lot(series(197, 188, 184, 205, 201))
    )
