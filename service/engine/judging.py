"""Compiled grade + evidence → verdict."""

from msgspec import UNSET, UnsetType

from service.engine.checking import judge_reading
from service.engine.compilation import CompiledGrade
from service.engine.evidence import Evidence
from service.engine.preparing import prepare, sent
from service.engine.provenance import evidence_digest
from service.engine.verdict import Verdict, outcome_of

__all__ = ["judge", "judge_reading"]


def judge(
    grade: CompiledGrade, evidence: Evidence, code: str | UnsetType = UNSET, revision: int | UnsetType = UNSET
) -> Verdict:
    """The verdict on a lot, under the code and revision by which the caller named the grade.

    Raises FlawedDocumentError with pointers into the evidence: a series, a declaration or a unit that the grade does not know.
    """
    series = sent(evidence)
    lot = prepare(grade.characteristics, grade.derived, grade.requirements, evidence, series)
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
