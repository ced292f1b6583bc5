"""Checks: one reading, judged by a compiled grade while a test station waits for the answer.

What does not depend on the reading is calculated at the first check of a characteristic in a unit, and cached with the grade.
"""

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from msgspec import UNSET, UnsetType

from service.engine.characteristics import NO_PRECAUTIONS, NOWHERE, CompiledCharacteristic, Pointers
from service.engine.documents import (
    GREATEST_MAGNITUDE,
    LEAST_MAGNITUDE,
    Check,
    CheckAnswer,
    Flaw,
    FlawedDocumentError,
    Outcome,
    Reason,
    WithOthers,
    outcome_of,
    written,
)
from service.engine.grade import CompiledGrade, ReadingPlan
from service.engine.lot import (
    Lot,
    implausible_reading,
    measurable_flaws,
    other_method,
    reading_flaws,
    unit_flaws,
    unknown_characteristic,
)
from service.engine.numbers import with_unit
from service.engine.requirements import VALUE_POINTERS, EachRule, MeanRule


def judge_reading(
    grade: CompiledGrade, check: Check, revision: int | UnsetType = UNSET, already_outside: Mapping[str, int] | None = None
) -> CheckAnswer:
    """The answer to a check, by the grade's limits on single readings; never a pass where the grade has none.

    already_outside  how many readings of its lot are outside, by id of the requirement, from `outside_counts`; None where the
                     check names no lot

    Raises FlawedDocumentError with pointers into the check.
    """
    # A reading of a known unit within range has no flaws, so flaws are only searched for here; a count must also be whole.
    plan = grade.plans.get((check.characteristic, check.unit))
    if plan is None or plan.of.quantity == "count" or not LEAST_MAGNITUDE <= check.value <= GREATEST_MAGNITUDE:
        plan = _checked_plan(grade, check)
    value = plan.value(check.value)
    doubts = [] if plan.of.precautions is NO_PRECAUTIONS else _doubts_about(plan.of, check, value)
    if doubts:
        findings = [
            requirement.finding(Outcome.UNDECIDED, doubts, requirement.resolved_limits)
            for requirement in plan.single_reading_rules
        ]
    else:
        outside: Mapping[str, int] = already_outside or {}
        # In the grade's own unit, the reading is in the sentence already.
        sent = None if plan.factor is None else with_unit(written(check.value), check.unit)
        findings = [requirement.check(value, outside.get(requirement.id, 0), sent) for requirement in plan.single_reading_rules]
    return CheckAnswer(
        outcome=outcome_of(findings) if plan.undecided_reasons is UNSET else Outcome.UNDECIDED,
        grade=check.grade,
        revision=revision,
        characteristic=check.characteristic,
        specification=grade.digest,
        findings=findings,
        with_others=[_with_other(each, value) for each in plan.mean_rules],
        reasons=[*doubts, *(plan.undecided_reasons or ())] if doubts else plan.undecided_reasons,
    )


def outside_counts(grade: CompiledGrade, lot: Lot) -> Mapping[str, int]:
    """How many readings of the lot are outside limits, by id of the requirements that allow some."""
    allowing = [
        each for each in grade.requirements if isinstance(each, EachRule) and each.over == "readings" and each.allows_some
    ]
    return {each.id: each.count_outside(lot) for each in allowing}


def _doubts_about(of: CompiledCharacteristic, check: Check, value: Fraction) -> Sequence[Reason]:
    """Why the reading leaves findings undecided whatever its value: it is implausible, or of another method."""
    # Where the grade asks for a method, a check that states none is in doubt too, as a series without one is.
    method = check.method or None
    found = (
        implausible_reading(value, of, VALUE_POINTERS),
        other_method(method, of, Pointers(("/method",), 1) if method else NOWHERE),
    )
    return [reason for reason in found if reason]


def _checked_plan(grade: CompiledGrade, check: Check) -> ReadingPlan:
    """The plan for a check, made and cached if the check has no flaws; raises FlawedDocumentError if it has."""
    if flaws := list(_flaws(grade, check)):
        raise FlawedDocumentError(flaws)
    # Grades are shared between threads: `setdefault` is one step, and a plan that was made twice is the same plan.
    return grade.plans.setdefault((check.characteristic, check.unit), _plan(grade, check.characteristic, check.unit))


def _flaws(grade: CompiledGrade, check: Check) -> Iterator[Flaw]:
    """The flaws of a check."""
    of = grade.characteristics.get(check.characteristic)
    if of is None:
        yield unknown_characteristic(check.characteristic, grade.characteristics, "/characteristic")
    else:
        yield from measurable_flaws(of, "/characteristic")
        if of.unit and not of.derived:
            yield from unit_flaws(check.unit, of, "/unit")
    yield from reading_flaws(check.value, check.unit, of, "/value")


def _plan(grade: CompiledGrade, name: str, unit: str) -> ReadingPlan:
    """The plan for a characteristic and a unit without flaws."""
    of = grade.characteristics[name]
    conversion = of.conversions[unit]
    is_same_unit = conversion.factor == 1 and not conversion.turned_round
    limiting = [each for each in grade.requirements if isinstance(each, EachRule | MeanRule) and each.of is of]
    single_reading_rules = [each for each in limiting if isinstance(each, EachRule) and each.over == "readings"]
    # Limits that depend on the lot are not known for a single reading.
    mean_rules = [each for each in limiting if each.limits is None and (isinstance(each, MeanRule) or each.over == "packages")]
    factor = None if is_same_unit else conversion.factor
    if any(each.binding for each in single_reading_rules):
        return ReadingPlan(of, factor, conversion.turned_round, single_reading_rules, mean_rules, UNSET)
    # No findings that are not binding: alone in an answer, one of them would be mistaken for the answer.
    return ReadingPlan(of, factor, conversion.turned_round, [], mean_rules, [_no_single_limit(of)])


def _with_other(requirement: MeanRule | EachRule, value: Fraction) -> WithOthers:
    """The reading compared with the limits of a requirement on means, as if it were the mean."""
    compared = requirement.rounding.of(value) if requirement.rounding else value
    difference = requirement.bounds.nearest(compared).distance(compared)
    return WithOthers(requirement.id, requirement.kind, requirement.resolved, difference)


def _no_single_limit(of: CompiledCharacteristic) -> Reason:
    """The reason where the grade has no binding limit on single readings of a characteristic."""
    text = f"The grade has no limit on a single reading of {of.words}: a reading decides nothing, the verdict on the lot does."
    return Reason("no-single-limit", text, {}, of.pointer, VALUE_POINTERS.first, VALUE_POINTERS.total)
