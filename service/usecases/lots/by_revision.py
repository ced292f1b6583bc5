"""The revision that a lot is judged by, with a retry if the lot was moved to another one in the meantime."""

from collections.abc import Awaitable, Callable

from service.ports.ledger import Decided, Ledger, Recorded
from service.usecases.grades import CachedGrade, GradeCache
from service.usecases.judging import held_by


async def grade_of(ledger: Ledger, grade_cache: GradeCache, lot: str) -> CachedGrade:
    """Return the revision that a lot is judged by, as far as known in memory. Raises LotUnknownError."""
    known = ledger.remembered(lot)
    if known is None:
        known = await ledger.folded(lot)
    return await held_by(grade_cache, known.grade, known.revision, "")


async def record_by_own_revision(
    grade_cache: GradeCache, held: CachedGrade, attempt: Callable[[CachedGrade], Awaitable[Recorded]]
) -> tuple[Recorded, CachedGrade]:
    """Record a change by the lot's own revision, trying `held` first, and return the result with that revision.

    attempt  records by a revision, or decides nothing if the lot has another one
    """
    recorded = await attempt(held)
    # Another replica may have moved the lot. It moves to newer revisions only, so this ends.
    while _is_undecided(recorded.decided):
        held = await held_by(grade_cache, recorded.row.grade, recorded.row.revision, "")
        recorded = await attempt(held)
    return recorded, held


def _is_undecided(decided: Decided) -> bool:
    """True if the attempt neither stored a change nor found an equal one."""
    return not decided.changes and not decided.number
