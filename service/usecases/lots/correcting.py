"""Correcting a lot that has a verdict: what was wrong is struck, what was left out is added, and it is judged anew."""

from collections.abc import Iterator, Sequence

from msgspec.structs import asdict

from service.engine.documents import Flaw, FlawedDocumentError, digest_of, quoted
from service.engine.grade import CompiledGrade
from service.engine.ledger import CORRECTION, Batch, Correction, LotHistory, LotRow, MarkedBatch, MarkedCorrection, encoded
from service.ports.ledger import Decided, Ledger, LotHasNoVerdictError, NewChange, PendingLot, Recorded
from service.usecases.grades import CachedGrade, GradeCache
from service.usecases.instruments import flaws_by_instrument, likely_marked, marked
from service.usecases.lots.by_revision import grade_of, settled
from service.usecases.lots.closing import Closed, stored_verdict
from service.usecases.lots.opening import existing_row, number_of
from service.usecases.lots.readings import batch_flaws, brings_something, nothing_to_strike
from service.usecases.lots.verdicts import ForeseenVerdict, foresee, next_verdict, verdict_behind, with_more
from service.usecases.repeating import is_repeated, record_or_compare


async def correct_lot(ledger: Ledger, grade_cache: GradeCache, lot: str, correction: Correction, by: str) -> Closed:
    """Strike and add in one transaction with the next verdict, once under the correction's id; what was there stays.

    What is told of the lot itself may be told otherwise by it. Of several at once, on several replicas too, each is judged with
    those before it. The lot then stands as its newest verdict says, so one that was closed may wait again.

    Raises FlawedDocumentError with every flaw of what is added and struck, or of the evidence as a whole, below /evidence, and
    nothing is kept then; ContentDiffersError, LotUnknownError, LotHasNoVerdictError.
    """
    digest, added = digest_of(encoded(correction)), correction.added

    def change(kept: Batch) -> NewChange:
        document = encoded(_with_marks(correction, kept))
        return NewChange(by=by, kind=CORRECTION, key=correction.id, digest=digest, document=document)

    async def attempt(held: CachedGrade) -> Recorded:
        if flaws := _flaws(held.compiled, lot, correction):
            raise FlawedDocumentError([*flaws, *await flaws_by_instrument(ledger, held.compiled, added)])
        foreseen = await _foreseen(ledger, held, lot, correction, change(await likely_marked(ledger, held.compiled, added)))

        def decide(pending: PendingLot) -> Decided:
            row = existing_row(pending, lot)
            if is_repeated(pending.find(correction.id), CORRECTION, digest):
                return Decided(number=number_of(pending, correction.id))
            _check_judged(row)
            folded = pending.complete_history()
            if row.revision != held.number:
                return Decided()
            if flaws := list(_strike_flaws(folded, correction)):
                raise FlawedDocumentError(flaws)
            corrected = change(marked(pending, held.compiled, added))
            verdict = next_verdict(
                with_more(folded, corrected, pending.now),
                held,
                by,
                reason=correction.reason,
                foreseen=foreseen,
            )
            return Decided(changes=[corrected, verdict], number=folded.changes + 1)

        return await record_or_compare(ledger, lot, correction.id, correction, decide, added.instrument or None)

    recorded, _ = await settled(grade_cache, await grade_of(ledger, grade_cache, lot), attempt)
    number = verdict_behind(recorded.folded, recorded.number)
    return Closed(await stored_verdict(ledger, lot, number), bool(recorded.decided.changes))


def _flaws(grade: CompiledGrade, lot: str, correction: Correction) -> Sequence[Flaw]:
    """What is wrong with what it adds, by itself; that it does nothing where it neither adds nor strikes."""
    if flaws := batch_flaws(grade, lot, correction.added):
        return flaws
    if correction.strikes or brings_something(correction.added):
        return ()
    text = "The correction corrects nothing. Give `strikes`, `series`, `counts`, `declared`, `dates` or `lot`."
    return [Flaw("nothing-in-correction", text, "")]


def _strike_flaws(folded: LotHistory, correction: Correction) -> Iterator[Flaw]:
    """Batches that the lot does not have, and places where they have nothing."""
    for number, struck in enumerate(correction.strikes or ()):
        if struck.batch in folded.placed:
            yield from (flaw.below(f"/strikes/{number}") for flaw in nothing_to_strike(folded, struck))
        else:
            text = f"The lot has no batch {quoted(struck.batch)}. `GET /v1/lots/{folded.lot}/changes` lists those that it has."
            yield Flaw("unknown-batch", text, f"/strikes/{number}/of")


async def _foreseen(
    ledger: Ledger, held: CachedGrade, lot: str, correction: Correction, change: NewChange
) -> ForeseenVerdict | None:
    """What a long lot comes to by it, worked out apart; None where it will be refused or is in already."""
    known = ledger.remembered(lot)
    if known is None or not known.verdicts or correction.id in known.known or any(_strike_flaws(known, correction)):
        return None
    return await foresee(ledger, held, lot, change)


def _check_judged(row: LotRow) -> None:
    """Raise LotHasNoVerdictError where nothing stands yet that could be corrected."""
    if row.state == "open":
        at = f"/v1/lots/{row.lot}"
        text = (
            f"Lot {row.lot} has no verdict yet, so there is none to correct. Strike what is wrong by `POST {at}/strikes`, and "
            f"add what was left out by `POST {at}/readings`."
        )
        raise LotHasNoVerdictError(text)


def _with_marks(correction: Correction, kept: Batch) -> Correction:
    """As it is kept: with what is known of its instrument."""
    return MarkedCorrection(**asdict(correction), marks=kept.marks) if isinstance(kept, MarkedBatch) else correction
