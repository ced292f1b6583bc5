"""Closing a lot: the verdict on all that is known of it by then, once however often it is asked for."""

from typing import NamedTuple

import msgspec

from service.engine.ledger import Closing, VerdictRecord, verdict_key
from service.ports.ledger import Decided, Ledger, PendingLot, Recorded, VerdictRow
from service.usecases.grades import CachedGrade, GradeCache
from service.usecases.lots.by_revision import grade_of, settled
from service.usecases.lots.opening import existing_row, number_of
from service.usecases.lots.verdicts import foresee, newest_verdict, next_verdict, verdict_in

_told = msgspec.json.Decoder(VerdictRecord).decode


class StoredVerdict(NamedTuple):
    """A verdict as it is kept, and what the lot's changes tell of it."""

    row: VerdictRow
    told: VerdictRecord


class Closed(NamedTuple):
    """The verdict that a lot has by what was asked for, and whether it is new."""

    kept: StoredVerdict
    is_new: bool


async def close_lot(ledger: Ledger, grade_cache: GradeCache, lot: str, closing: Closing, by: str) -> Closed:
    """Judge all that is known of a lot and keep the verdict; where it has one, that one, whoever asked for it.

    Of several who close at the same moment, on several replicas too, one records it and all get it. Raises LotUnknownError, and
    FlawedDocumentError with pointers below /evidence where the evidence as a whole can't be judged.
    """

    async def attempt(held: CachedGrade) -> Recorded:
        foreseen = await foresee(ledger, held, lot)

        def decide(pending: PendingLot) -> Decided:
            row = existing_row(pending, lot)
            if newest := newest_verdict(pending):
                return Decided(number=number_of(pending, verdict_key(newest)))
            folded = pending.complete_history()
            if row.revision != held.number:
                return Decided()
            return Decided(changes=[next_verdict(folded, held, by, reason=closing.reason, foreseen=foreseen)])

        return await ledger.record(lot, decide)

    recorded, _ = await settled(grade_cache, await grade_of(ledger, grade_cache, lot), attempt)
    number = verdict_in(recorded.decided) or len(recorded.folded.verdicts)
    return Closed(await stored_verdict(ledger, lot, number), bool(recorded.decided.changes))


async def stored_verdict(ledger: Ledger, lot: str, number: int) -> StoredVerdict:
    """A verdict of a lot. Raises LotUnknownError, VerdictUnknownError."""
    row = await ledger.verdict(lot, number)
    change = await ledger.change(lot, verdict_key(number))
    return StoredVerdict(row, _told(change.document))
