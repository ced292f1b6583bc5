"""Closing a lot: its verdict on everything recorded so far, stored once, however often it is requested."""

from typing import NamedTuple

import msgspec

from service.engine.ledger import Closing, VerdictRecord, verdict_key
from service.ports.ledger import Decided, Ledger, PendingLot, Recorded, VerdictRow
from service.usecases.grades import CachedGrade, GradeCache
from service.usecases.lots.by_revision import grade_of, record_by_own_revision
from service.usecases.lots.opening import existing_row, number_of
from service.usecases.lots.verdicts import judge_in_advance, newest_verdict, next_verdict, verdict_in

_record = msgspec.json.Decoder(VerdictRecord).decode


class StoredVerdict(NamedTuple):
    """A stored verdict, and the record of it in the lot's changes."""

    row: VerdictRow
    told: VerdictRecord


class Closed(NamedTuple):
    """The verdict that a request resulted in, and whether it is new."""

    kept: StoredVerdict
    is_new: bool


async def close_lot(ledger: Ledger, grade_cache: GradeCache, lot: str, closing: Closing, by: str) -> Closed:
    """Judge a lot and store the verdict, or return its newest verdict if it has one.

    Of concurrent callers, on other replicas too, one records the verdict and all get it. Raises LotUnknownError, and
    FlawedDocumentError with pointers below /evidence if the evidence as a whole can't be judged.
    """

    async def attempt(held: CachedGrade) -> Recorded:
        advance = await judge_in_advance(ledger, held, lot)

        def decide(pending: PendingLot) -> Decided:
            row = existing_row(pending, lot)
            if newest := newest_verdict(pending):
                return Decided(number=number_of(pending, verdict_key(newest)))
            folded = pending.complete_history()
            # Moved to another revision: decide nothing, and let the caller try again by that one.
            if row.revision != held.number:
                return Decided()
            return Decided(changes=[next_verdict(folded, held, by, reason=closing.reason, advance=advance)])

        return await ledger.record(lot, decide)

    recorded, _ = await record_by_own_revision(grade_cache, await grade_of(ledger, grade_cache, lot), attempt)
    number = verdict_in(recorded.decided) or len(recorded.folded.verdicts)
    return Closed(await stored_verdict(ledger, lot, number), bool(recorded.decided.changes))


async def stored_verdict(ledger: Ledger, lot: str, number: int) -> StoredVerdict:
    """Return a verdict of a lot. Raises LotUnknownError, VerdictUnknownError."""
    row = await ledger.verdict(lot, number)
    change = await ledger.change(lot, verdict_key(number))
    return StoredVerdict(row, _record(change.document))
