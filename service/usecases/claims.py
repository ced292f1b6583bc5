"""Claims on lots: stored with the other side's evidence, answered with both sides' findings, settled once."""

from collections.abc import Sequence
from typing import NamedTuple

import msgspec
from msgspec import UnsetType
from msgspec.structs import asdict, replace

from service.engine.comparing import BothParties, Compared, Divergence, Party, compared, differing, received_later
from service.engine.documents import Evidence, Flaw, FlawedDocumentError, Verdict, quoted
from service.engine.judging import judge
from service.engine.ledger import (
    CLAIM,
    SETTLEMENT,
    Claim,
    Claimed,
    Claims,
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
    ClaimOnLot,
    ClaimsQuery,
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

_claim = msgspec.json.Decoder(StoredClaim).decode
_verdict = msgspec.json.Decoder(Verdict).decode
_evidence = msgspec.json.Decoder(Evidence).decode


class KnownClaim(NamedTuple):
    """A claim without its evidence, its settlement if any, and the lot's current number of verdicts."""

    name: str
    claimed: Claimed
    settled: Settled | None
    verdicts: int


class ClaimInList(NamedTuple):
    """A claim in the list of all lots' claims, and its settlement if any."""

    lot: str
    name: str
    grade: str
    claimed: Claimed
    settled: Settled | None


class ClaimFindings(NamedTuple):
    """The findings of both sides of a claim."""

    ours: Verdict
    """The verdict as recorded."""
    theirs: Verdict | None
    """The verdict on their evidence by the same revision; None without evidence."""
    compared: Sequence[Compared]
    differ: Sequence[Divergence]
    """Differences that concern the lot as a whole."""
    replay: Replay
    """Replay of the contested verdict."""


class AnsweredClaim(NamedTuple):
    """A claim, the contested verdict, and the findings of both sides."""

    known: KnownClaim
    row: VerdictRow
    """The stored verdict that the claim contests."""
    findings: ClaimFindings


async def put_claim(ledger: Ledger, grade_cache: GradeCache, lot: str, name: str, claim: Claim, by: str) -> bool:
    """Store a claim against the lot's newest verdict; True if it is new, False if the same one was stored before.

    Raises LotUnknownError, ClaimWithoutVerdictError, ContentDiffersError, and FlawedDocumentError with every flaw, those of the
    evidence below /evidence.
    """
    number = len((await ledger.folded(lot)).verdicts)
    if not number:
        text = f"Lot {lot} has no verdict yet, so a claim has nothing to contest. Close it first: `POST /v1/lots/{lot}/close`."
        raise ClaimWithoutVerdictError(text)
    row, key, digest = await ledger.verdict(lot, number), claim_key(name), digest_of_sent(claim)
    held = await held_by(grade_cache, row.grade, row.revision, "")
    if flaws := [*claim_flaws(claim, [rule.id for rule in held.compiled.requirements]), *await _evidence_flaws(held, claim)]:
        raise FlawedDocumentError(flaws)

    def decide(pending: PendingLot) -> Decided:
        existing_row(pending, lot)
        if is_repeated(pending.find(key), CLAIM, digest):
            return Decided(number=number_of(pending, key))
        stored = StoredClaim(**asdict(claim), verdict=newest_verdict(pending))
        return Decided(changes=[NewChange(by=by, kind=CLAIM, key=key, digest=digest, document=encoded(stored))])

    return bool((await record_or_compare(ledger, lot, key, claim, decide)).decided.changes)


async def answered_claim(ledger: Ledger, grade_cache: GradeCache, lot: str, name: str) -> AnsweredClaim:
    """Return a claim with the contested verdict, their evidence judged by its revision, and the differences.

    Raises LotUnknownError, ChangeUnknownError.
    """
    known = await known_claim(ledger, lot, name)
    document = (await ledger.change(lot, claim_key(name))).document
    row = await ledger.verdict(lot, known.claimed.verdict)
    held = await held_by(grade_cache, row.grade, row.revision, "")
    is_long = held.compiled.searches_plans or len(document) + len(row.evidence) >= LONG_BYTES
    findings = await run_in_thread(_compare, held, document, row) if is_long else _compare(held, document, row)
    return AnsweredClaim(known, row, findings)


async def claim_evidence(ledger: Ledger, lot: str, name: str) -> Evidence:
    """Return the other side's evidence. Raises LotUnknownError, ChangeUnknownError also for a claim without evidence."""
    await known_claim(ledger, lot, name)
    stored = _claim((await ledger.change(lot, claim_key(name))).document)
    if isinstance(stored.evidence, UnsetType):
        raise ChangeUnknownError(f"Claim {quoted(name)} on lot {lot} has no evidence.")
    return stored.evidence


async def known_claim(ledger: Ledger, lot: str, name: str) -> KnownClaim:
    """Return a claim without its evidence. Raises LotUnknownError, ChangeUnknownError."""
    folded = await ledger.folded(lot)
    claimed = folded.claims.known.get(name)
    if claimed is None:
        raise ChangeUnknownError(_no_claim(lot, name))
    return KnownClaim(name, claimed, folded.claims.settled.get(name), len(folded.verdicts))


async def known_claims(ledger: Ledger, lot: str) -> list[KnownClaim]:
    """Return all claims on a lot, oldest first. Raises LotUnknownError."""
    folded = await ledger.folded(lot)
    number, settled = len(folded.verdicts), folded.claims.settled
    return [KnownClaim(name, claimed, settled.get(name), number) for name, claimed in folded.claims.known.items()]


def claims_query(grade: str | None, state: str | None, after: str | None) -> ClaimsQuery:
    """Return the query for claims on all lots; `state` is `open` or `settled`, `after` is written as lot/claim."""
    lot, _, name = (after or "").partition("/")
    return ClaimsQuery(
        grade=grade, is_settled=None if state is None else state == "settled", after=(lot, name) if after else None
    )


async def list_claims(ledger: Ledger, wanted: ClaimsQuery, most: int) -> Sequence[ClaimInList]:
    """Return at most `most` claims on all lots, the newest first. Raises FlawedDocumentError at /after for an unknown one."""
    try:
        found = await ledger.claims(replace(wanted, limit=most))
    except ChangeUnknownError as error:
        raise FlawedDocumentError([Flaw("unknown-claim", f"{error} Send the `next` of the page before.", "/after")]) from error
    return [_in_list(each) for each in found]


def _in_list(found: ClaimOnLot) -> ClaimInList:
    claims = Claims()
    claims.claim(found.claim)
    if found.settlement:
        claims.settle(found.settlement)
    return ClaimInList(found.lot, found.name, found.grade, claims.known[found.name], claims.settled.get(found.name))


async def settle_claim(ledger: Ledger, lot: str, name: str, settlement: Settlement, by: str) -> bool:
    """Store the settlement of a claim, once; True if it is new, False if the same one was stored before.

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
        # Not ContentDiffersError: a settlement has no id of its own under which another one could be sent.
        if known.digest != digest:
            text = (
                f"Claim {quoted(name)} on lot {lot} is already settled otherwise; `GET /v1/lots/{lot}/claims/{name}` shows how."
            )
            raise ClaimIsSettledError(f"{text} To claim again, use another name.")
        return Decided(number=known.number)

    return bool((await ledger.record(lot, decide)).decided.changes)


async def _evidence_flaws(held: CachedGrade, claim: Claim) -> Sequence[Flaw]:
    """Return the flaws of their evidence by the revision that the lot was judged by, below /evidence."""
    evidence = claim.evidence
    if isinstance(evidence, UnsetType):
        return ()
    is_long = held.compiled.searches_plans or sum(len(each.values) for each in evidence.series or ()) >= LONG
    try:
        await run_in_thread(judge, held.compiled, evidence) if is_long else judge(held.compiled, evidence)
    except FlawedDocumentError as error:
        return below("/evidence", error).flaws
    return ()


def _compare(held: CachedGrade, document: bytes, row: VerdictRow) -> ClaimFindings:
    """Compare both sides; pure, so it can run in a thread."""
    claim = _claim(document)
    ours, names = Party(_evidence(row.evidence), _verdict(row.verdict)), claim.requirements
    # The replay shows in the answer itself whether the contested verdict still follows from our evidence.
    again = replay(held.compiled, row.grade, row.revision, row.evidence, row.verdict)
    later = list(received_later(received, row.at.date())) if (received := day_of(claim.received_on)) else []
    if isinstance(claim.evidence, UnsetType):
        return ClaimFindings(ours.verdict, None, compared(held.compiled, ours, None, names), later, again)
    theirs = Party(claim.evidence, judge(held.compiled, claim.evidence, held.grade, held.number))
    differ = [*differing(held.compiled, BothParties(ours, theirs), names), *later]
    return ClaimFindings(ours.verdict, theirs.verdict, compared(held.compiled, ours, theirs, names), differ, again)


def _no_claim(lot: str, name: str) -> str:
    return f"There is no claim {quoted(name)} on lot {lot}. `GET /v1/lots/{lot}/claims` lists the claims."
