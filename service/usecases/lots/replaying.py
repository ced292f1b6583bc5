"""Judging again what was judged, to see whether the verdict that is kept follows from the evidence that is kept."""

from typing import NamedTuple

from service.engine.ledger import Replay, replay
from service.ports.ledger import Ledger, VerdictRow
from service.usecases.grades import GradeCache
from service.usecases.judging import held_by
from service.usecases.lots.verdicts import LONG
from service.usecases.threads import run_in_thread

LONG_BYTES = 5 * LONG
"""So many bytes of evidence and more are judged apart: a reading takes some five, so that these are lots that close apart."""


class Replayed(NamedTuple):
    """A verdict as it is kept, and what comes of judging again."""

    row: VerdictRow
    replay: Replay


async def replay_verdict(ledger: Ledger, grade_cache: GradeCache, lot: str, number: int) -> Replayed:
    """The verdict judged again by its revision, withdrawn or not, from the bytes that are kept; nothing is recorded.

    Raises LotUnknownError, VerdictUnknownError.
    """
    row = await ledger.verdict(lot, number)
    held = await held_by(grade_cache, row.grade, row.revision, "")
    kept = (held.compiled, row.grade, row.revision, row.evidence, row.verdict)
    takes_long = held.compiled.searches_plans or len(row.evidence) >= LONG_BYTES
    return Replayed(row, await run_in_thread(replay, *kept) if takes_long else replay(*kept))
