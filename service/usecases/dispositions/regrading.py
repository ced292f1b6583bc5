"""Regrading: the evidence of a lot's newest verdict judged by another grade."""

from collections.abc import Sequence
from typing import NamedTuple

import msgspec

from service.engine.documents import Evidence, Finding, Flaw, FlawedDocumentError, Outcome, digest_of
from service.engine.judging import judge
from service.engine.ledger import Disposition
from service.ports.ledger import Ledger, LotIsAlteredError
from service.usecases.grades import CachedGrade, GradeCache
from service.usecases.judging import held_by
from service.usecases.lots import LONG
from service.usecases.threads import run_in_thread

_decode = msgspec.json.Decoder(Evidence).decode


class Regrading(NamedTuple):
    """The result of judging a lot by the grade that it is regraded to."""

    grade: str
    verdict: int
    """Number of the verdict whose evidence was judged; 0 if the lot has none."""
    revision: int = 0
    """The grade's revision in force; 0 if `flaws` says why there is none."""
    flaws: Sequence[Flaw] = ()
    """Flaws of the request."""
    unmet: Sequence[Flaw] = ()
    """Requirements that are not met, as flaws, or why the evidence does not fit the grade."""
    names: Sequence[str] = ()
    """Ids of the requirements that are not met."""


async def regrading(ledger: Ledger, grade_cache: GradeCache, lot: str, asked: Disposition) -> Regrading | None:
    """Judge a lot for a regrade without concession; None for other dispositions. Raises LotUnknownError, LotIsAlteredError."""
    if asked.disposition != "regrade":
        return None
    grade, verdicts = str(asked.grade), (await ledger.folded(lot)).verdicts.copy()
    verdict = len(verdicts)
    try:
        held = await held_by(grade_cache, grade, None, "")
    except FlawedDocumentError as error:
        return Regrading(grade, verdict, flaws=error.flaws)
    if asked.concession or not verdict:
        return Regrading(grade, verdict, held.number)
    # In no transaction, since judging may take long; the disposition is tried again if another verdict comes before it.
    document = (await ledger.verdict(lot, verdict)).evidence
    # The decision rests on this evidence alone, so it is compared with the lot's changes first.
    if digest_of(document) != verdicts[-1].evidence:
        text = f"The evidence stored with verdict {verdict} on lot {lot} was altered: it differs from the lot's changes."
        raise LotIsAlteredError(f"{text} Hold the lot, and have the operator of the service run `markeryarn verify`.")
    # LONG counts readings, and each takes several bytes, so that this errs towards the thread.
    is_long = held.compiled.searches_plans or len(document) >= LONG
    flaws, names = await run_in_thread(_unmet, held, document) if is_long else _unmet(held, document)
    return Regrading(grade, verdict, held.number, unmet=flaws, names=names)


def _unmet(held: CachedGrade, document: bytes) -> tuple[list[Flaw], list[str]]:
    """Return (flaws, ids) of the requirements that are not met; both empty if the evidence passes."""
    try:
        verdict = judge(held.compiled, _decode(document))
    except FlawedDocumentError as error:
        return [msgspec.structs.replace(flaw, at="/grade") for flaw in error.flaws], []
    unmet = [each for each in verdict.findings if each.binding and each.outcome is not Outcome.PASS]
    return [_flaw(each) for each in unmet], [each.requirement for each in unmet]


def _flaw(finding: Finding) -> Flaw:
    """An unmet requirement as a flaw, with its first reason."""
    reason = finding.reasons[0]
    return Flaw(f"requirement-{FAILS[finding.outcome]}", f"{finding.requirement}: {reason.text}", "/grade", reason.rule)


FAILS = {Outcome.FAIL: "fails", Outcome.UNDECIDED: "undecided"}
