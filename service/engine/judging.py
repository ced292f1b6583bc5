"""Compiled grade + evidence → verdict."""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from msgspec import UNSET, UnsetType

from service.engine.characteristics import CompiledCharacteristic
from service.engine.checking import judge_reading, outside_counts
from service.engine.documents import Evidence, Verdict, outcome_of
from service.engine.grade import CompiledGrade
from service.engine.lot import Lot, SentSeries, evidence_digest, ordinary_lot, prepare, sent
from service.engine.requirements import findings_of

__all__ = ["PreparedEvidence", "judge", "judge_prepared", "judge_reading", "prepared_evidence", "used_up"]


class PreparedEvidence(NamedTuple):
    """Evidence, and what every verdict on it takes whatever the grade."""

    evidence: Evidence
    series: Sequence[SentSeries]
    digest: str


def prepared_evidence(evidence: Evidence) -> PreparedEvidence:
    """The evidence, ready to be judged by any number of grades."""
    series = sent(evidence)
    return PreparedEvidence(evidence, series, evidence_digest(evidence, [each.doubles for each in series]))


def judge(
    grade: CompiledGrade, evidence: Evidence, code: str | UnsetType = UNSET, revision: int | UnsetType = UNSET
) -> Verdict:
    """The verdict on a lot, under the code and revision by which the caller named the grade.

    Raises FlawedDocumentError with pointers into the evidence: a series, a declaration or a unit that the grade does not know,
    a second sample that no requirement calls for.
    """
    return judge_prepared(grade, prepared_evidence(evidence), code, revision)


def judge_prepared(grade: CompiledGrade, lot: PreparedEvidence, code: str | UnsetType, revision: int | UnsetType) -> Verdict:
    """The same, of evidence that was made ready before."""
    findings = findings_of(grade.requirements, lot_of(grade, lot.evidence, lot.series, grade.derived))
    return Verdict(
        outcome=outcome_of(findings),
        grade=code,
        revision=revision,
        lot=lot.evidence.lot.id,
        specification=grade.digest,
        evidence=lot.digest,
        findings=findings,
    )


def used_up(grade: CompiledGrade, lot: PreparedEvidence) -> Mapping[str, int]:
    """What a check of one more reading of this lot is to know: how many are outside already, by requirement.

    What is derived is left aside, as no single reading of it can be sent, and partners may still be to come. Raises
    FlawedDocumentError as `judge_prepared` does otherwise.
    """
    return outside_counts(grade, lot_of(grade, lot.evidence, lot.series))


def lot_of(
    grade: CompiledGrade, evidence: Evidence, series: Sequence[SentSeries], derived: Sequence[CompiledCharacteristic] = ()
) -> Lot:
    """The lot that the evidence tells of, with these characteristics derived. Raises FlawedDocumentError as `judge` does."""
    prepared = None if derived else ordinary_lot(grade.characteristics, evidence, series)
    if prepared is None:
        return prepare(grade.characteristics, derived, grade.requirements, evidence, series)
    return prepared
