"""Whether a lot may go out as another grade: the evidence of its newest verdict, judged now by that grade."""

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
    """How a lot stands by the grade that it is to go out as."""

    grade: str
    verdict: int
    """The number of the lot's verdict whose evidence was looked at; 0 where it has none."""
    revision: int = 0
    """The grade's one in force; 0 where there is none to go by, as `flaws` says."""
    flaws: Sequence[Flaw] = ()
    """Of the request."""
    unmet: Sequence[Flaw] = ()
    """What of the grade the evidence does not meet, or why it does not fit the grade."""
    names: Sequence[str] = ()
    """Of the requirements that are not met."""


async def regrading(ledger: Ledger, grade_cache: GradeCache, lot: str, asked: Disposition) -> Regrading | None:
    """Of a regrade; None of everything else. By a concession nothing is judged. Raises LotUnknownError, LotIsAlteredError."""
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
    document = (await ledger.verdict(lot, verdict)).evidence
    if digest_of(document) != verdicts[-1].evidence:
        text = f"The evidence kept with verdict {verdict} on lot {lot} was altered: it is not what the lot's changes tell of."
        raise LotIsAlteredError(f"{text} Hold the lot, and have whoever runs the service run `markeryarn verify`.")
    # A reading takes some bytes, so that these are fewer readings than LONG is meant for.
    is_long = held.compiled.searches_plans or len(document) >= LONG
    flaws, names = await run_in_thread(_unmet, held, document) if is_long else _unmet(held, document)
    return Regrading(grade, verdict, held.number, unmet=flaws, names=names)


def _unmet(held: CachedGrade, document: bytes) -> tuple[list[Flaw], list[str]]:
    """(what is not met, the requirements that it is of); two empty ones where the evidence passes."""
    try:
        verdict = judge(held.compiled, _decode(document))
    except FlawedDocumentError as error:
        return [msgspec.structs.replace(flaw, at="/grade") for flaw in error.flaws], []
    unmet = [each for each in verdict.findings if each.binding and each.outcome is not Outcome.PASS]
    return [_flaw(each) for each in unmet], [each.requirement for each in unmet]


def _flaw(finding: Finding) -> Flaw:
    """What a requirement says against the lot."""
    reason = finding.reasons[0]
    return Flaw(f"requirement-{FAILS[finding.outcome]}", f"{finding.requirement}: {reason.text}", "/grade", reason.rule)


FAILS = {Outcome.FAIL: "fails", Outcome.UNDECIDED: "undecided"}
