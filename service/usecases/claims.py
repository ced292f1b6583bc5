"""Claims on lots: kept with the other side's evidence, answered by both sides' findings beside each other, settled once."""

from collections.abc import Sequence
from typing import NamedTuple

import msgspec
from msgspec import UnsetType
from msgspec.structs import asdict

from service.engine.comparing import BothParties, Compared, Divergence, Party, compared, differing, received_later
from service.engine.documents import Evidence, Flaw, FlawedDocumentError, Verdict, quoted
from service.engine.judging import judge
from service.engine.ledger import (
    CLAIM,
    SETTLEMENT,
    Claim,
    Claimed,
    Replay,
    Settled,
    Settlement,
    StoredClaim,
    claim_flaws,
    claim_key,
    encoded,
    replay,
    settlement_key,
)
from service.engine.lot import day_of
from service.ports.ledger import (
    ChangeUnknownError,
    ClaimIsSettledError,
    ClaimWithoutVerdictError,
    Decided,
    Ledger,
    NewChange,
    PendingLot,
    VerdictRow,
)
from service.usecases.grades import CachedGrade, GradeCache
from service.usecases.judging import below, held_by
from service.usecases.lots import LONG, LONG_BYTES, existing_row, newest_verdict, number_of
from service.usecases.repeating import digest_of_sent, is_repeated, record_or_compare
from service.usecases.threads import run_in_thread

_kept = msgspec.json.Decoder(StoredClaim).decode
_verdict = msgspec.json.Decoder(Verdict).decode
_evidence = msgspec.json.Decoder(Evidence).decode


class KnownClaim(NamedTuple):
    """A claim without its evidence, how it ended where it has, and how many verdicts the lot has by now."""

    name: str
    claimed: Claimed
    settled: Settled | None
    verdicts: int


class ClaimAnswered(NamedTuple):
    """Both sides of a claim."""

    ours: Verdict
    """As it was recorded."""
    theirs: Verdict | None
    """On their evidence, by the same revision; None where they gave none."""
    compared: Sequence[Compared]
    differ: Sequence[Divergence]
    """For the lot as a whole."""
    replay: Replay
    """The verdict that it is against, judged again."""


class AnsweredClaim(NamedTuple):
    """A claim with both its sides."""

    known: KnownClaim
    row: VerdictRow
    """Of the verdict that it is against."""
    weighed: ClaimAnswered


async def put_claim(ledger: Ledger, grade_cache: GradeCache, lot: str, name: str, claim: Claim, by: str) -> bool:
    """Keep a claim against the lot's newest verdict; True where it is new, False where the same was kept before.

    Raises LotUnknownError, ClaimWithoutVerdictError, ContentDiffersError, and FlawedDocumentError with all that is wrong with
    it, of the evidence below /evidence.
    """
    number = len((await ledger.folded(lot)).verdicts)
    if not number:
        text = f"Lot {lot} has no verdict yet that a claim could be against. Close it first: `POST /v1/lots/{lot}/close`."
        raise ClaimWithoutVerdictError(text)
    row, key, digest = await ledger.verdict(lot, number), claim_key(name), digest_of_sent(claim)
    held = await held_by(grade_cache, row.grade, row.revision, "")
    if flaws := [*claim_flaws(claim, [rule.id for rule in held.compiled.requirements]), *await _evidence_flaws(held, claim)]:
        raise FlawedDocumentError(flaws)

    def decide(pending: PendingLot) -> Decided:
        existing_row(pending, lot)
        if is_repeated(pending.find(key), CLAIM, digest):
            return Decided(number=number_of(pending, key))
        kept = StoredClaim(**asdict(claim), verdict=newest_verdict(pending))
        return Decided(changes=[NewChange(by=by, kind=CLAIM, key=key, digest=digest, document=encoded(kept))])

    return bool((await record_or_compare(ledger, lot, key, claim, decide)).decided.changes)


async def answered_claim(ledger: Ledger, grade_cache: GradeCache, lot: str, name: str) -> AnsweredClaim:
    """A claim beside the verdict that it is against: their evidence judged by its revision, and where both sides differ.

    Raises LotUnknownError, ChangeUnknownError.
    """
    known = await known_claim(ledger, lot, name)
    document = (await ledger.change(lot, claim_key(name))).document
    row = await ledger.verdict(lot, known.claimed.verdict)
    held = await held_by(grade_cache, row.grade, row.revision, "")
    is_long = held.compiled.searches_plans or len(document) + len(row.evidence) >= LONG_BYTES
    weighed = await run_in_thread(_weighed, held, document, row) if is_long else _weighed(held, document, row)
    return AnsweredClaim(known, row, weighed)


async def claim_evidence(ledger: Ledger, lot: str, name: str) -> Evidence:
    """The evidence that the other side gave. Raises LotUnknownError, ChangeUnknownError."""
    await known_claim(ledger, lot, name)
    kept = _kept((await ledger.change(lot, claim_key(name))).document)
    if isinstance(kept.evidence, UnsetType):
        raise ChangeUnknownError(f"Claim {quoted(name)} on lot {lot} came without evidence.")
    return kept.evidence


async def known_claim(ledger: Ledger, lot: str, name: str) -> KnownClaim:
    """A claim without its evidence. Raises LotUnknownError, ChangeUnknownError."""
    folded = await ledger.folded(lot)
    claimed = folded.claims.known.get(name)
    if claimed is None:
        raise ChangeUnknownError(_no_claim(lot, name))
    return KnownClaim(name, claimed, folded.claims.settled.get(name), len(folded.verdicts))


async def known_claims(ledger: Ledger, lot: str) -> list[KnownClaim]:
    """All claims on a lot, the first one first. Raises LotUnknownError."""
    folded = await ledger.folded(lot)
    number, settled = len(folded.verdicts), folded.claims.settled
    return [KnownClaim(name, claimed, settled.get(name), number) for name, claimed in folded.claims.known.items()]


async def settle_claim(ledger: Ledger, lot: str, name: str, settlement: Settlement, by: str) -> bool:
    """Keep how a claim ended, once; True where that is new, False where the same was kept before. It alters no verdict.

    Raises LotUnknownError, ChangeUnknownError, ClaimIsSettledError.
    """
    await known_claim(ledger, lot, name)
    key, digest = settlement_key(name), digest_of_sent(settlement)

    def decide(pending: PendingLot) -> Decided:
        existing_row(pending, lot)
        known = pending.find(key)
        if known is None:
            change = NewChange(by=by, kind=SETTLEMENT, key=key, digest=digest, document=encoded(settlement))
            return Decided(changes=[change])
        if known.digest != digest:
            text = f"Claim {quoted(name)} on lot {lot} is settled already, in other words: `GET /v1/lots/{lot}/claims/{name}`."
            raise ClaimIsSettledError(f"{text} It is settled once; of what is new, make a claim with a name of its own.")
        return Decided(number=known.number)

    return bool((await ledger.record(lot, decide)).decided.changes)


async def _evidence_flaws(held: CachedGrade, claim: Claim) -> Sequence[Flaw]:
    """Why their evidence can't be judged by the revision that the lot was judged by, below /evidence."""
    evidence = claim.evidence
    if isinstance(evidence, UnsetType):
        return ()
    is_long = held.compiled.searches_plans or sum(len(each.values) for each in evidence.series or ()) >= LONG
    try:
        await run_in_thread(judge, held.compiled, evidence) if is_long else judge(held.compiled, evidence)
    except FlawedDocumentError as error:
        return below("/evidence", error).flaws
    return ()


def _weighed(held: CachedGrade, document: bytes, row: VerdictRow) -> ClaimAnswered:
    """Both sides; pure, so that it may run anywhere."""
    kept = _kept(document)
    ours, names = Party(_evidence(row.evidence), _verdict(row.verdict)), kept.requirements
    again = replay(held.compiled, row.grade, row.revision, row.evidence, row.verdict)
    later = list(received_later(received, row.at.date())) if (received := day_of(kept.received_on)) else []
    if isinstance(kept.evidence, UnsetType):
        return ClaimAnswered(ours.verdict, None, compared(held.compiled, ours, None, names), later, again)
    theirs = Party(kept.evidence, judge(held.compiled, kept.evidence, held.grade, held.number))
    differ = [*differing(held.compiled, BothParties(ours, theirs), names), *later]
    return ClaimAnswered(ours.verdict, theirs.verdict, compared(held.compiled, ours, theirs, names), differ, again)


def _no_claim(lot: str, name: str) -> str:
    return f"There is no claim {quoted(name)} on lot {lot}. `GET /v1/lots/{lot}/claims` lists those that there are."
