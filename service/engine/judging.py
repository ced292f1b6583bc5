"""Compiled grade + evidence → verdict."""

from collections.abc import Iterable, Iterator
from fractions import Fraction

from msgspec import UNSET, UnsetType

from service.engine.compilation import CompiledGrade
from service.engine.evidence import Check, Evidence
from service.engine.flaws import Flaw, FlawedDocumentError
from service.engine.numerals import exact
from service.engine.preparing import measurable_flaws, prepare, reading_flaws, sent, unit_flaws, unknown_characteristic
from service.engine.provenance import evidence_digest
from service.engine.requirements.each import AT_VALUE, EachRule
from service.engine.requirements.mean import MeanRule
from service.engine.verdict import CheckAnswer, Finding, Outcome, Reason, Verdict, WithOthers

IN_ORDER = (Outcome.FAIL, Outcome.UNDECIDED)
"""The first of these that a binding finding has is the lot's; else it passes."""


def judge(
    grade: CompiledGrade, evidence: Evidence, code: str | UnsetType = UNSET, revision: int | UnsetType = UNSET
) -> Verdict:
    """The verdict on a lot, under the code and revision by which the caller named the grade.

    Raises FlawedDocumentError with pointers into the evidence: a series, a declaration or a unit that the grade does not know.
    """
    series = sent(evidence)
    lot = prepare(grade.characteristics, grade.derived, evidence, series)
    findings = [requirement.judge(lot) for requirement in grade.requirements]
    return Verdict(
        outcome=outcome_of(findings),
        grade=code,
        revision=revision,
        lot=evidence.lot.id,
        specification=grade.digest,
        evidence=evidence_digest(evidence, [each.doubles for each in series]),
        findings=findings,
    )


def judge_reading(grade: CompiledGrade, check: Check, revision: int | UnsetType = UNSET) -> CheckAnswer:
    """What one reading comes to by the limits that the grade puts on single readings; never a pass without such a limit.

    Raises FlawedDocumentError with pointers into the check.
    """
    if flaws := list(_check_flaws(grade, check)):
        raise FlawedDocumentError(flaws)
    of = grade.characteristics[check.characteristic]
    conversion = of.conversions[check.unit]
    sent_value = exact(check.value)
    value = conversion.factor / sent_value if conversion.turned_round else sent_value * conversion.factor
    single = [each for each in grade.requirements if isinstance(each, EachRule) and each.of is of and each.over == "readings"]
    findings = [requirement.check(value) for requirement in single]
    is_decided_here = any(finding.binding for finding in findings)
    return CheckAnswer(
        outcome=outcome_of(findings) if is_decided_here else Outcome.UNDECIDED,
        grade=check.grade,
        revision=revision,
        characteristic=of.name,
        specification=grade.digest,
        findings=findings,
        with_others=list(_with_others(grade, check.characteristic, value)),
        reasons=UNSET if is_decided_here else [_no_single_limit(of.words, of.pointer)],
    )


def _check_flaws(grade: CompiledGrade, check: Check) -> Iterator[Flaw]:
    """What is wrong with a reading, before it is judged."""
    of = grade.characteristics.get(check.characteristic)
    if of is None:
        yield unknown_characteristic(check.characteristic, grade.characteristics, "/characteristic")
    else:
        yield from measurable_flaws(of, "/characteristic")
        if of.unit and not of.derived:
            yield from unit_flaws(check.unit, of, "/unit")
    yield from reading_flaws(check.value, check.unit, of, "/value")


def _with_others(grade: CompiledGrade, name: str, value: Fraction) -> Iterator[WithOthers]:
    """The requirements on means, and where the reading would lie by itself."""
    for each in grade.requirements:
        if not isinstance(each, MeanRule | EachRule) or each.of.name != name:
            continue
        if isinstance(each, MeanRule) or each.over == "packages":
            difference = float(each.bounds.margin(each.rounded(value)))
            yield WithOthers(each.id, each.kind, each.resolved, difference)


def _no_single_limit(words: str, rule: str) -> Reason:
    """The grade puts no limit on a single reading of it."""
    text = f"The grade puts no limit on a single reading of {words}, so one reading decides nothing. The lot's verdict does."
    return Reason("no-single-limit", text, {}, rule, AT_VALUE.first, AT_VALUE.total)


def outcome_of(findings: Iterable[Finding]) -> Outcome:
    """Fails if a binding finding fails, else undecided if one is undecided, else passes."""
    binding = {finding.outcome for finding in findings if finding.binding}
    return next((outcome for outcome in IN_ORDER if outcome in binding), Outcome.PASS)
