"""The next verdict on a lot, to be stored together with the change that requires it."""

from datetime import UTC, datetime
from typing import NamedTuple

import msgspec
from msgspec import UNSET, UnsetType

from service.engine.documents import Evidence, FlawedDocumentError, digest_of
from service.engine.ledger import VERDICT, Change, Judged, LotHistory, VerdictRecord, encoded, judge_to_store, verdict_key
from service.ports.catalogue import Moment
from service.ports.ledger import Decided, Ledger, NewChange, NewVerdict, PendingLot
from service.usecases.grades import CachedGrade
from service.usecases.judging import below
from service.usecases.threads import run_in_thread

LONG = 20_000
"""Number of readings from which a lot is judged in a thread: about 5 ms of work, and 30 ms for 100,000 readings."""
TRIAL = datetime.fromtimestamp(0, UTC)
"""Moment of a change that is only tried; the evidence does not depend on it."""
_decode = msgspec.json.Decoder(Evidence).decode
_encode = msgspec.json.Encoder().encode


class AdvanceVerdict(NamedTuple):
    """A verdict calculated in advance, valid for the same evidence and revision."""

    held: CachedGrade
    judged: Judged


def newest_verdict(pending: PendingLot) -> int:
    """Return the number of a lot's newest verdict, earlier changes of the same group included; 0 for none."""
    number = len(pending.committed.verdicts)
    while pending.find(verdict_key(number + 1)):
        number += 1
    return number


def verdict_in(decided: Decided) -> int:
    """Return the number of the verdict in a decision; 0 for none."""
    return max((each.verdict.number for each in decided.changes if each.verdict), default=0)


def verdict_behind(folded: LotHistory, change: int) -> int:
    """Return the number of the verdict recorded together with a change, by its number; 0 for none, and for the first one."""
    # Not the first one: closing records it without a change before it.
    return next((each.number for each in folded.verdicts[1:] if _change_number_of(folded, each.number) == change + 1), 0)


def _change_number_of(folded: LotHistory, verdict: int) -> int:
    """Return the number of the change that records a verdict."""
    return folded.known[verdict_key(verdict)].number


def with_new_change(folded: LotHistory, change: NewChange, at: Moment = TRIAL) -> LotHistory:
    """Return the lot's history with a change that is not stored yet."""
    number = folded.changes + 1
    return folded.with_change(
        Change(
            number=number, at=at, by=change.by, kind=change.kind, key=change.key, digest=change.digest, document=change.document
        )
    )


async def judge_in_advance(ledger: Ledger, held: CachedGrade, lot: str, more: NewChange | None = None) -> AdvanceVerdict | None:
    """Judge a long lot, with one more change, in a thread; None for a short one, and for evidence with flaws."""
    # Before the lot is locked: a long lot would hold the locks, and the event loop, of its whole group.
    known = ledger.remembered(lot)
    if known is None or not (held.compiled.searches_plans or known.taken >= LONG):
        return None
    # As bytes, since the event loop may add to the history while the thread judges.
    document = _encode((with_new_change(known, more) if more else known).evidence())
    try:
        return AdvanceVerdict(held, await run_in_thread(_judged_again, held, document, known.is_resubmitted))
    except FlawedDocumentError:
        return None


def next_verdict(
    folded: LotHistory,
    held: CachedGrade,
    by: str,
    *,
    reason: str | UnsetType = UNSET,
    advance: AdvanceVerdict | None = None,
) -> NewChange:
    """Judge the lot by a revision and return the change that records its next verdict.

    advance  a verdict calculated in advance, which is used if evidence and revision are the same

    Raises FlawedDocumentError with pointers below /evidence if the evidence as a whole can't be judged.
    """
    number, evidence = len(folded.verdicts) + 1, folded.evidence()
    judged = _in_advance(advance, held, evidence) or _judged(held, evidence, folded.is_resubmitted)
    record = VerdictRecord(
        number=number,
        outcome=judged.verdict.outcome,
        revision=held.number,
        verdict=digest_of(judged.document),
        evidence=digest_of(judged.evidence),
        state=judged.state,
        reason=reason,
    )
    verdict = NewVerdict(
        number=number,
        outcome=judged.verdict.outcome.value,
        grade=held.grade,
        revision=held.number,
        evidence=judged.evidence,
        verdict=judged.document,
        results=judged.results,
    )
    key = verdict_key(number)
    return NewChange(by=by, kind=VERDICT, key=key, digest=record.verdict, document=encoded(record), verdict=verdict)


def _in_advance(advance: AdvanceVerdict | None, held: CachedGrade, evidence: Evidence) -> Judged | None:
    """Return the verdict calculated in advance if it is for the same evidence and revision, or None."""
    # Compared as bytes: other readings may have been recorded since.
    if advance is None or advance.held is not held or advance.judged.evidence != _encode(evidence):
        return None
    return advance.judged


def _judged_again(held: CachedGrade, document: bytes, is_resubmitted: bool) -> Judged:  # noqa: FBT001  goes to another thread
    return _judged(held, _decode(document), is_resubmitted)


def _judged(held: CachedGrade, evidence: Evidence, is_resubmitted: bool) -> Judged:  # noqa: FBT001  called with it in place
    try:
        return judge_to_store(held.compiled, held.grade, held.number, evidence, is_resubmitted=is_resubmitted)
    except FlawedDocumentError as error:
        raise below("/evidence", error) from error
