"""Compiled grade + one reading → what it comes to: the path that a station waits on.

What does not depend on the reading is worked out at the first reading of a characteristic in a unit, and kept.
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
from service.engine.requirements import VALUE_POINTERS, EachRule, MeanRule


def judge_reading(
    grade: CompiledGrade, check: Check, revision: int | UnsetType = UNSET, already_outside: Mapping[str, int] | None = None
) -> CheckAnswer:
    """What one reading comes to by the limits that the grade puts on single readings; never a pass without such a limit.

    used  by requirement, how many readings of its lot are outside already, by `used_in`; None where no lot is named

    Raises FlawedDocumentError with pointers into the check.
    """
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
    elif already_outside is None:
        findings = [requirement.check(value) for requirement in plan.single_reading_rules]
    else:
        findings = [
            requirement.check(value, already_outside.get(requirement.id, 0)) for requirement in plan.single_reading_rules
        ]
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
    """How many readings of the lot are outside already, by each requirement that allows some."""
    allowing = [
        each for each in grade.requirements if isinstance(each, EachRule) and each.over == "readings" and each.allows_some
    ]
    return {each.id: each.used(lot) for each in allowing}


def _doubts_about(of: CompiledCharacteristic, check: Check, value: Fraction) -> Sequence[Reason]:
    """Why the reading can't be taken as it stands: then it is neither in nor out."""
    method = check.method or None
    found = (
        implausible_reading(value, of, VALUE_POINTERS),
        other_method(method, of, Pointers(("/method",), 1) if method else NOWHERE),
    )
    return [reason for reason in found if reason]


def _checked_plan(grade: CompiledGrade, check: Check) -> ReadingPlan:
    """The plan for a check without flaws, made where there is none yet."""
    if flaws := list(_flaws(grade, check)):
        raise FlawedDocumentError(flaws)
    return grade.plans.setdefault((check.characteristic, check.unit), _plan(grade, check.characteristic, check.unit))


def _flaws(grade: CompiledGrade, check: Check) -> Iterator[Flaw]:
    """What is wrong with a reading, before it is judged."""
    of = grade.characteristics.get(check.characteristic)
    if of is None:
        yield unknown_characteristic(check.characteristic, grade.characteristics, "/characteristic")
    else:
        yield from measurable_flaws(of, "/characteristic")
        if of.unit and not of.derived:
            yield from unit_flaws(check.unit, of, "/unit")
    yield from reading_flaws(check.value, check.unit, of, "/value")


def _plan(grade: CompiledGrade, name: str, unit: str) -> ReadingPlan:
    """Worked out once for a characteristic and a unit that have no flaws."""
    of = grade.characteristics[name]
    conversion = of.conversions[unit]
    is_same_unit = conversion.factor == 1 and not conversion.turned_round
    limiting = [each for each in grade.requirements if isinstance(each, EachRule | MeanRule) and each.of is of]
    single_reading_rules = [each for each in limiting if isinstance(each, EachRule) and each.over == "readings"]
    # Limits that are worked out for each lot are not known beside one reading.
    mean_rules = [each for each in limiting if each.limits is None and (isinstance(each, MeanRule) or each.over == "packages")]
    factor = None if is_same_unit else conversion.factor
    if any(each.binding for each in single_reading_rules):
        return ReadingPlan(of, factor, conversion.turned_round, single_reading_rules, mean_rules, UNSET)
    # A finding that binds nothing, alone under an answer without a limit, would be taken for the answer.
    return ReadingPlan(of, factor, conversion.turned_round, [], mean_rules, [_no_single_limit(of)])


def _with_other(requirement: MeanRule | EachRule, value: Fraction) -> WithOthers:
    """Where the reading would lie by itself."""
    compared = requirement.rounding.of(value) if requirement.rounding else value
    difference = requirement.bounds.nearest(compared).distance(compared)
    return WithOthers(requirement.id, requirement.kind, requirement.resolved, difference)


def _no_single_limit(of: CompiledCharacteristic) -> Reason:
    """The grade puts no binding limit on a single reading of it."""
    text = f"The grade puts no limit on a single reading of {of.words}, so one reading decides nothing. The lot's verdict does."
    return Reason("no-single-limit", text, {}, of.pointer, VALUE_POINTERS.first, VALUE_POINTERS.total)
