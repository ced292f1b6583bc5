"""Replay: judging stored evidence again, to see whether the stored verdict follows from it."""

from typing import NamedTuple

from service.engine.ledger import Replay, replay
from service.ports.ledger import Ledger, VerdictRow
from service.usecases.grades import GradeCache
from service.usecases.judging import held_by
from service.usecases.lots.verdicts import LONG
from service.usecases.threads import run_in_thread

LONG_BYTES = 5 * LONG
"""Bytes of evidence from which a replay runs in a thread: about LONG readings, at five bytes each."""


class Replayed(NamedTuple):
    """A stored verdict, and the result of its replay."""

    row: VerdictRow
    replay: Replay


async def replay_verdict(ledger: Ledger, grade_cache: GradeCache, lot: str, number: int) -> Replayed:
    """Judge a verdict's stored evidence again by its revision, withdrawn or not; nothing is recorded.

    Raises LotUnknownError, VerdictUnknownError.
    """
    row = await ledger.verdict(lot, number)
    held = await held_by(grade_cache, row.grade, row.revision, "")
    stored = (held.compiled, row.grade, row.revision, row.evidence, row.verdict)
    takes_long = held.compiled.searches_plans or len(row.evidence) >= LONG_BYTES
    return Replayed(row, await run_in_thread(replay, *stored) if takes_long else replay(*stored))
