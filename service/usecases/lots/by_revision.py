"""By which revision a lot is judged, as it is known here; and once more where it has been moved to another one meanwhile."""

from collections.abc import Awaitable, Callable

from service.ports.ledger import Decided, Ledger, Recorded
from service.usecases.grades import CachedGrade, GradeCache
from service.usecases.judging import held_by


async def grade_of(ledger: Ledger, grade_cache: GradeCache, lot: str) -> CachedGrade:
    """The revision that a lot is judged by. Raises LotUnknownError."""
    known = ledger.remembered(lot)
    if known is None:
        known = await ledger.folded(lot)
    return await held_by(grade_cache, known.grade, known.revision, "")


async def settled(
    grade_cache: GradeCache, held: CachedGrade, attempt: Callable[[CachedGrade], Awaitable[Recorded]]
) -> tuple[Recorded, CachedGrade]:
    """What is recorded by the lot's own revision, which is tried first as `held`.

    attempt  records by a revision; it decides nothing where the lot goes by another one
    """
    recorded = await attempt(held)
    while _is_undecided(recorded.decided):
        held = await held_by(grade_cache, recorded.row.grade, recorded.row.revision, "")
        recorded = await attempt(held)
    return recorded, held


def _is_undecided(decided: Decided) -> bool:
    """Neither kept nor kept before."""
    return not decided.changes and not decided.number
