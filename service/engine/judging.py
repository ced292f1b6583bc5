"""Verdicts: the evidence on a lot, judged by a compiled grade."""

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
    """Evidence, with what a verdict by any grade needs of it."""

    evidence: Evidence
    series: Sequence[SentSeries]
    digest: str


def prepared_evidence(evidence: Evidence) -> PreparedEvidence:
    """The evidence, prepared to be judged by any number of grades."""
    # Once for all grades: the digest and the columns of a long lot take longer than its findings.
    series = sent(evidence)
    return PreparedEvidence(evidence, series, evidence_digest(evidence, [each.doubles for each in series]))


def judge(
    grade: CompiledGrade, evidence: Evidence, code: str | UnsetType = UNSET, revision: int | UnsetType = UNSET
) -> Verdict:
    """The verdict on a lot; `code` and `revision` are how the caller named the grade, and are copied into the verdict.

    Raises FlawedDocumentError with pointers into the evidence: a series, a declaration or a unit that the grade does not know,
    a second sample that no requirement needs.
    """
    return judge_prepared(grade, prepared_evidence(evidence), code, revision)


def judge_prepared(grade: CompiledGrade, lot: PreparedEvidence, code: str | UnsetType, revision: int | UnsetType) -> Verdict:
    """The verdict on evidence that `prepared_evidence` gave. Raises FlawedDocumentError as `judge` does."""
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
    """How many readings of the lot are outside limits, by id of the requirements that allow some.

    A check of one more reading of the lot needs it. Raises FlawedDocumentError as `judge_prepared` does, but not for flaws of
    derived characteristics.
    """
    # Without derived characteristics: no check can send a reading of one, and partners of a pair may still be to come.
    return outside_counts(grade, lot_of(grade, lot.evidence, lot.series))


def lot_of(
    grade: CompiledGrade, evidence: Evidence, series: Sequence[SentSeries], derived: Sequence[CompiledCharacteristic] = ()
) -> Lot:
    """The lot of this evidence with readings of the `derived` characteristics. Raises FlawedDocumentError as `judge` does."""
    # `ordinary_lot` is a shortcut for simple evidence and gives None for any other, flawed evidence too.
    prepared = None if derived else ordinary_lot(grade.characteristics, evidence, series)
    if prepared is None:
        return prepare(grade.characteristics, derived, grade.requirements, evidence, series)
    return prepared
