"""Corrections of a lot that has a verdict: strikes, additions, and a new verdict."""

from collections.abc import Iterator, Sequence

from msgspec.structs import asdict

from service.engine.documents import Flaw, FlawedDocumentError, digest_of, quoted
from service.engine.grade import CompiledGrade
from service.engine.ledger import CORRECTION, Batch, Correction, LotHistory, LotRow, MarkedBatch, MarkedCorrection, encoded
from service.ports.ledger import Decided, Ledger, LotHasNoVerdictError, NewChange, PendingLot, Recorded
from service.usecases.grades import CachedGrade, GradeCache
from service.usecases.instruments import flaws_by_instrument, likely_marked, marked
from service.usecases.lots.by_revision import grade_of, record_by_own_revision
from service.usecases.lots.closing import Closed, stored_verdict
from service.usecases.lots.opening import existing_row, number_of
from service.usecases.lots.readings import batch_flaws, brings_something, nothing_to_strike
from service.usecases.lots.verdicts import AdvanceVerdict, judge_in_advance, next_verdict, verdict_behind, with_new_change
from service.usecases.repeating import is_repeated, record_or_compare


async def correct_lot(ledger: Ledger, grade_cache: GradeCache, lot: str, correction: Correction, by: str) -> Closed:
    """Store strikes and additions with the lot's next verdict in one transaction; repeating the id is safe.

    A correction may also replace data of the lot itself. Concurrent ones, on other replicas too, are judged one after the
    other. The lot's state follows from its newest verdict, so a closed lot may wait for readings again.

    Raises FlawedDocumentError with every flaw of the correction, or of the evidence as a whole, below /evidence;
    ContentDiffersError, LotUnknownError, LotHasNoVerdictError. Nothing is stored then.
    """
    digest, added = digest_of(encoded(correction)), correction.added

    def change(stored: Batch) -> NewChange:
        document = encoded(_with_marks(correction, stored))
        return NewChange(by=by, kind=CORRECTION, key=correction.id, digest=digest, document=document)

    async def attempt(held: CachedGrade) -> Recorded:
        if flaws := _flaws(held.compiled, lot, correction):
            raise FlawedDocumentError([*flaws, *await flaws_by_instrument(ledger, held.compiled, added)])
        advance = await _in_advance(ledger, held, lot, correction, change(await likely_marked(ledger, held.compiled, added)))

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
            # One change with its verdict, so that what is replaced is at no moment counted twice or missing.
            corrected = change(marked(pending, held.compiled, added))
            verdict = next_verdict(
                with_new_change(folded, corrected, pending.now),
                held,
                by,
                reason=correction.reason,
                advance=advance,
            )
            return Decided(changes=[corrected, verdict], number=folded.changes + 1)

        return await record_or_compare(ledger, lot, correction.id, correction, decide, added.instrument or None)

    recorded, _ = await record_by_own_revision(grade_cache, await grade_of(ledger, grade_cache, lot), attempt)
    number = verdict_behind(recorded.folded, recorded.number)
    return Closed(await stored_verdict(ledger, lot, number), bool(recorded.decided.changes))


def _flaws(grade: CompiledGrade, lot: str, correction: Correction) -> Sequence[Flaw]:
    """Flaws of the additions alone, or the flaw of a correction without additions and strikes."""
    if flaws := batch_flaws(grade, lot, correction.added):
        return flaws
    if correction.strikes or brings_something(correction.added):
        return ()
    text = "The correction is empty. Give `strikes`, `series`, `counts`, `declared`, `dates` or `lot`."
    return [Flaw("nothing-in-correction", text, "")]


def _strike_flaws(folded: LotHistory, correction: Correction) -> Iterator[Flaw]:
    """Flaws of strikes whose batch or entry does not exist."""
    for number, struck in enumerate(correction.strikes or ()):
        if struck.batch in folded.placed:
            yield from (flaw.below(f"/strikes/{number}") for flaw in nothing_to_strike(folded, struck))
        else:
            text = f"The lot has no batch {quoted(struck.batch)}. `GET /v1/lots/{folded.lot}/changes` lists its batches."
            yield Flaw("unknown-batch", text, f"/strikes/{number}/of")


async def _in_advance(
    ledger: Ledger, held: CachedGrade, lot: str, correction: Correction, change: NewChange
) -> AdvanceVerdict | None:
    """Judge a long lot with the correction in a thread; None if it will be refused or is recorded already."""
    known = ledger.remembered(lot)
    if known is None or not known.verdicts or correction.id in known.known or any(_strike_flaws(known, correction)):
        return None
    return await judge_in_advance(ledger, held, lot, change)


def _check_judged(row: LotRow) -> None:
    """Raise LotHasNoVerdictError for a lot without a verdict."""
    if row.state == "open":
        at = f"/v1/lots/{row.lot}"
        text = (
            f"Lot {row.lot} has no verdict yet, so there is none to correct. Strike what is wrong with `POST {at}/strikes`, "
            f"and add what was left out with `POST {at}/readings`."
        )
        raise LotHasNoVerdictError(text)


def _with_marks(correction: Correction, stored: Batch) -> Correction:
    """Return the correction as stored, with the marks of its instrument."""
    return MarkedCorrection(**asdict(correction), marks=stored.marks) if isinstance(stored, MarkedBatch) else correction
