"""A judged lot in the form in which it is stored, and the state of the lot after the verdict."""

from typing import NamedTuple

import msgspec

from service.engine.documents import Evidence, Outcome, Verdict
from service.engine.grade import CompiledGrade
from service.engine.judging import judge
from service.engine.ledger.documents import StateAfter
from service.engine.lot import lot_size_of
from service.engine.switching import encoded_results as results_written
from service.engine.switching import results_of

_encode = msgspec.json.Encoder().encode


class Judged(NamedTuple):
    """A verdict, with the bytes that are stored for it."""

    verdict: Verdict
    document: bytes
    """The verdict as JSON, byte for byte as every other answer that judges the same evidence."""
    evidence: bytes
    """The evidence document that was judged, as JSON."""
    results: bytes
    """The results for the switching rules, as JSON."""

    @property
    def state(self) -> StateAfter:
        """`waiting` where none failed and a binding requirement is undecided because readings are missing; else `closed`."""
        if self.verdict.outcome is not Outcome.UNDECIDED:
            return "closed"
        # A lot that is undecided for another reason is closed: further readings would not decide it.
        undecided = (each for each in self.verdict.findings if each.binding and each.outcome is Outcome.UNDECIDED)
        return "waiting" if any(each.missing for each in undecided) else "closed"


def judge_to_store(
    grade: CompiledGrade, code: str, revision: int, evidence: Evidence, *, is_resubmitted: bool = False
) -> Judged:
    """The verdict on a lot by a revision of a grade, with the bytes to store. Raises FlawedDocumentError as `judge` does."""
    verdict = judge(grade, evidence, code, revision)
    results = results_of(
        grade.requirements, verdict.findings, evidence.lot.id, lot_size_of(evidence.lot), resubmitted=is_resubmitted
    )
    return Judged(verdict, _encode(verdict), _encode(evidence), results_written(results))
