"""Recording the next verdict on a lot, together with the change that asks for it."""

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
"""So many readings and more are judged apart, as that takes longer than others should wait: some 5 ms here, 30 for 100,000."""
SOON = datetime.fromtimestamp(0, UTC)
"""The moment of a change that is only tried; it moves nothing in the evidence."""
_decode = msgspec.json.Decoder(Evidence).decode
_encode = msgspec.json.Encoder().encode


class ForeseenVerdict(NamedTuple):
    """What a lot came to when it was judged apart, by a revision; good for the same evidence."""

    held: CachedGrade
    judged: Judged


def newest_verdict(pending: PendingLot) -> int:
    """The number of a lot's newest verdict, one that stands before in the same group included; 0 where there is none."""
    number = len(pending.committed.verdicts)
    while pending.find(verdict_key(number + 1)):
        number += 1
    return number


def verdict_in(decided: Decided) -> int:
    """The number of the verdict that was recorded; 0 where none was."""
    return max((each.verdict.number for each in decided.changes if each.verdict), default=0)


def verdict_behind(folded: LotHistory, change: int) -> int:
    """The number of the verdict that was recorded together with the change of this number; 0 where none was.

    The first one is not: it was asked for by closing.
    """
    return next((each.number for each in folded.verdicts[1:] if _stands_at(folded, each.number) == change + 1), 0)


def _stands_at(folded: LotHistory, verdict: int) -> int:
    """The number of the change that tells of a verdict."""
    return folded.known[verdict_key(verdict)].number


def with_more(folded: LotHistory, change: NewChange, at: Moment = SOON) -> LotHistory:
    """The lot as this change will leave it, which is not kept yet."""
    number = folded.changes + 1
    return folded.with_change(
        Change(
            number=number, at=at, by=change.by, kind=change.kind, key=change.key, digest=change.digest, document=change.document
        )
    )


async def foresee(ledger: Ledger, held: CachedGrade, lot: str, more: NewChange | None = None) -> ForeseenVerdict | None:
    """What the lot, with a change more, comes to, worked out apart where that takes long; else, or where it has flaws, None."""
    known = ledger.remembered(lot)
    if known is None or not (held.compiled.searches_plans or known.taken >= LONG):
        return None
    # As bytes: what is judged elsewhere must not change meanwhile.
    document = _encode((with_more(known, more) if more else known).evidence())
    try:
        return ForeseenVerdict(held, await run_in_thread(_judged_again, held, document, known.is_resubmitted))
    except FlawedDocumentError:
        return None


def next_verdict(
    folded: LotHistory,
    held: CachedGrade,
    by: str,
    *,
    reason: str | UnsetType = UNSET,
    foreseen: ForeseenVerdict | None = None,
) -> NewChange:
    """The change that tells of the lot's next verdict: as the revision judges what is folded of the lot.

    Raises FlawedDocumentError with pointers below /evidence where the evidence as a whole can't be judged.
    """
    number, evidence = len(folded.verdicts) + 1, folded.evidence()
    judged = _foreseen(foreseen, held, evidence) or _judged(held, evidence, folded.is_resubmitted)
    told = VerdictRecord(
        number=number,
        outcome=judged.verdict.outcome,
        revision=held.number,
        verdict=digest_of(judged.document),
        evidence=digest_of(judged.evidence),
        state=judged.state,
        reason=reason,
    )
    kept = NewVerdict(
        number=number,
        outcome=judged.verdict.outcome.value,
        grade=held.grade,
        revision=held.number,
        evidence=judged.evidence,
        verdict=judged.document,
        results=judged.results,
    )
    key = verdict_key(number)
    return NewChange(by=by, kind=VERDICT, key=key, digest=told.verdict, document=encoded(told), verdict=kept)


def _foreseen(foreseen: ForeseenVerdict | None, held: CachedGrade, evidence: Evidence) -> Judged | None:
    """What was foreseen, where it is of the same evidence by the same revision."""
    if foreseen is None or foreseen.held is not held or foreseen.judged.evidence != _encode(evidence):
        return None
    return foreseen.judged


def _judged_again(held: CachedGrade, document: bytes, is_resubmitted: bool) -> Judged:  # noqa: FBT001  goes to another thread
    return _judged(held, _decode(document), is_resubmitted)


def _judged(held: CachedGrade, evidence: Evidence, is_resubmitted: bool) -> Judged:  # noqa: FBT001  as above
    try:
        return judge_to_store(held.compiled, held.grade, held.number, evidence, is_resubmitted=is_resubmitted)
    except FlawedDocumentError as error:
        raise below("/evidence", error) from error
