"""What is kept of a lot that is judged, and what its verdict makes of it."""

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
    """A verdict, and the bytes that are kept for it."""

    verdict: Verdict
    document: bytes
    """Of the verdict, as any other answer has it that judges the same."""
    evidence: bytes
    """The document that was judged."""
    results: bytes
    """What it says to switching."""

    @property
    def state(self) -> StateAfter:
        """`waiting` where a binding requirement is undecided for want of readings, and none has failed."""
        if self.verdict.outcome is not Outcome.UNDECIDED:
            return "closed"
        undecided = (each for each in self.verdict.findings if each.binding and each.outcome is Outcome.UNDECIDED)
        return "waiting" if any(each.missing for each in undecided) else "closed"


def judge_to_store(
    grade: CompiledGrade, code: str, revision: int, evidence: Evidence, *, is_resubmitted: bool = False
) -> Judged:
    """The verdict on a lot by a revision of a grade, ready to be kept. Raises FlawedDocumentError as `judge` does."""
    verdict = judge(grade, evidence, code, revision)
    results = results_of(
        grade.requirements, verdict.findings, evidence.lot.id, lot_size_of(evidence.lot), resubmitted=is_resubmitted
    )
    return Judged(verdict, _encode(verdict), _encode(evidence), results_written(results))
