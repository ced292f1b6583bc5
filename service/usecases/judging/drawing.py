"""What to draw from a lot before it is tested."""

from msgspec import Struct

from service.engine.documents import FlawedDocumentError, LotToDraw, ToDraw
from service.engine.drawing import what_to_draw
from service.engine.lot import inspections_flaws, lot_flaws
from service.usecases.grades import GradeCache
from service.usecases.judging.against import Against, named
from service.usecases.threads import by_grade


class DrawRequest(Struct, frozen=True, forbid_unknown_fields=True):
    """A lot to be tested, and what it will be judged against."""

    against: Against
    lot: LotToDraw


async def for_lot(grade_cache: GradeCache, request: DrawRequest) -> ToDraw:
    """Return what to draw from a lot. Raises FlawedDocumentError with pointers into the request."""
    flaws = list(lot_flaws(request.lot, "/lot"))
    try:
        against = await named(grade_cache, request.against)
    except FlawedDocumentError as error:
        raise FlawedDocumentError([*error.flaws, *flaws]) from error
    flaws += inspections_flaws(request.lot.inspections, against.compiled.requirements, "/lot/inspections")
    if flaws:
        raise FlawedDocumentError(flaws)
    return await by_grade(against.compiled, what_to_draw, against.compiled, request.lot, against.grade, against.revision)
