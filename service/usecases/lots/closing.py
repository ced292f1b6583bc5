"""Closing a lot: the verdict on all that is known of it by then, once however often it is asked for."""

from typing import NamedTuple

import msgspec

from service.engine.ledger import Closing, VerdictKept, verdict_key
from service.ports.ledger import Decided, Ledger, Recorded, SoFar, VerdictRow
from service.usecases.grades import Held, Shelf
from service.usecases.lots.by_revision import grade_of, settled
from service.usecases.lots.opening import number_of, there
from service.usecases.lots.verdicts import foresee, newest_verdict, next_verdict, verdict_in

_told = msgspec.json.Decoder(VerdictKept).decode


class Kept(NamedTuple):
    """A verdict as it is kept, and what the lot's changes tell of it."""

    row: VerdictRow
    told: VerdictKept


class Closed(NamedTuple):
    """The verdict that a lot has by what was asked for, and whether it is new."""

    kept: Kept
    is_new: bool


async def close_lot(ledger: Ledger, shelf: Shelf, lot: str, closing: Closing, by: str) -> Closed:
    """Judge all that is known of a lot and keep the verdict; where it has one, that one, whoever asked for it.

    Of several who close at the same moment, on several replicas too, one records it and all get it. Raises LotUnknownError, and
    FlawedDocumentError with pointers below /evidence where the evidence as a whole can't be judged.
    """

    async def attempt(held: Held) -> Recorded:
        foreseen = await foresee(ledger, held, lot)

        def decide(so_far: SoFar) -> Decided:
            row = there(so_far, lot)
            if newest := newest_verdict(so_far):
                return Decided(number=number_of(so_far, verdict_key(newest)))
            folded = so_far.whole()
            if row.revision != held.number:
                return Decided()
            return Decided(changes=[next_verdict(folded, held, by, reason=closing.reason, foreseen=foreseen)])

        return await ledger.record(lot, decide)

    recorded, _ = await settled(shelf, await grade_of(ledger, shelf, lot), attempt)
    number = verdict_in(recorded.decided) or len(recorded.folded.verdicts)
    return Closed(await kept_verdict(ledger, lot, number), bool(recorded.decided.changes))


async def kept_verdict(ledger: Ledger, lot: str, number: int) -> Kept:
    """A verdict of a lot. Raises LotUnknownError, VerdictUnknownError."""
    row = await ledger.verdict(lot, number)
    change = await ledger.change(lot, verdict_key(number))
    return Kept(row, _told(change.document))
