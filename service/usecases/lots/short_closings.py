"""Lots that were closed with short samples, by releases that did not list everything that a short sample lacks."""

from collections.abc import AsyncIterator, Sequence
from typing import NamedTuple

import msgspec

from service.engine.documents import Missing, Outcome, Verdict
from service.ports.ledger import Ledger, LotsQuery
from service.usecases.grades import GradeCache
from service.usecases.lots.replaying import replay_verdict

AT_ONCE = 100
_verdict = msgspec.json.Decoder(Verdict).decode


class ClosedShort(NamedTuple):
    """A lot that should have waited, and the readings that it lacked."""

    lot: str
    missing: Sequence[Missing]


async def closed_short(ledger: Ledger, grade_cache: GradeCache) -> AsyncIterator[ClosedShort]:
    """Yield such lots in order of id, one at a time in memory. Raises CatalogueAwayError."""
    wanted = LotsQuery(state=("closed",), outcome=("undecided",), limit=AT_ONCE)
    while rows := await ledger.lots(wanted):
        for row in rows:
            if missing := await _missing(ledger, grade_cache, row.lot):
                yield ClosedShort(row.lot, missing)
        wanted = msgspec.structs.replace(wanted, after=rows[-1].lot)


async def _missing(ledger: Ledger, grade_cache: GradeCache, lot: str) -> list[Missing]:
    """Return what a replay of the lot's newest verdict lists as missing."""
    newest = (await ledger.folded(lot)).verdicts[-1].number
    judged = (await replay_verdict(ledger, grade_cache, lot, newest)).replay
    if judged.flaws:
        return []
    undecided = (each for each in _verdict(judged.verdict).findings if each.binding and each.outcome is Outcome.UNDECIDED)
    return [missing for finding in undecided for missing in finding.missing or ()]
