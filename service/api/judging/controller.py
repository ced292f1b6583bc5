"""Checks, verdicts, draws, gradings and reviews: what is judged and not kept."""

from litestar import Controller
from litestar.di import NamedDependency
from litestar.params import JSONBody, RawBody
from msgspec import Struct

from service.api.answers import Ready
from service.api.handlers import post
from service.api.judging import operations
from service.api.judging.checks import AnyCheck, CheckDTO
from service.api.judging.reviews import reviewed
from service.api.operations import told
from service.api.watching.judged import Judged
from service.ports.catalogue import Catalogue
from service.ports.ledger import Ledger
from service.usecases.grades import Review, Shelf
from service.usecases.judging import DrawRequest, LotToGrade, LotToJudge, check_readings, for_lot, graded, of_lot, of_reading
from service.usecases.lots import CheckOfLot, of_reading_in_lot


class Judging(Struct, frozen=True):
    """What judges, and where it is counted."""

    catalogue: Catalogue
    shelf: Shelf
    ledger: Ledger
    judged: Judged
    most_readings: int
    """Of a request."""


class CheckController(Controller):
    """Single readings."""

    path = "/v1/checks"

    @post(dto=CheckDTO, **told(operations.CHECK_READING))
    async def check(self, data: AnyCheck, judging: NamedDependency[Judging]) -> Ready:
        """Judge one reading."""
        if isinstance(data, CheckOfLot):
            return await _checked_in_lot(data, judging)
        answer = await of_reading(judging.shelf, data)
        judging.judged.count("checks", data.grade, answer.outcome)
        return Ready(answer, is_stale=judging.shelf.is_stale)


class LotVerdictController(Controller):
    """Lots whose verdict is not kept."""

    path = "/v1/verdicts"

    @post(**told(operations.JUDGE_LOT))
    async def judge(self, data: JSONBody[LotToJudge], judging: NamedDependency[Judging]) -> Ready:
        """Judge a lot; nothing is stored."""
        check_readings(data.evidence.series, judging.most_readings)
        verdict = await of_lot(judging.shelf, data)
        judging.judged.count("verdicts", data.against.grade, verdict.outcome)
        return Ready(verdict, is_stale=judging.shelf.is_stale)


class DrawController(Controller):
    """Lots before they are tested."""

    path = "/v1/draws"

    @post(**told(operations.DRAW_LOT))
    async def draw(self, data: JSONBody[DrawRequest], judging: NamedDependency[Judging]) -> Ready:
        """Say what to pull from a lot; nothing is stored."""
        return Ready(await for_lot(judging.shelf, data), is_stale=judging.shelf.is_stale)


class GradingController(Controller):
    """Lots by several grades."""

    path = "/v1/gradings"

    @post(**told(operations.GRADE_LOT))
    async def grade(self, data: JSONBody[LotToGrade], judging: NamedDependency[Judging]) -> Ready:
        """Judge a lot by several grades; nothing is stored."""
        check_readings(data.evidence.series, judging.most_readings)
        answer = await graded(judging.catalogue, judging.shelf, data)
        for each in answer.gradings:
            judging.judged.count("gradings", each.grade, each.outcome)
        return Ready(answer, is_stale=judging.shelf.is_stale)


class ReviewController(Controller):
    """Specifications that are looked over."""

    path = "/v1/reviews"

    @post(**told(operations.REVIEW_SPECIFICATION))
    async def review(self, body: RawBody) -> Review:
        """Every flaw of a specification, and advice; any JSON is answered."""
        return await reviewed(body)


async def _checked_in_lot(check: CheckOfLot, judging: Judging) -> Ready:
    """What a reading of a lot comes to; nothing is recorded."""
    found, is_stale = await of_reading_in_lot(judging.shelf, judging.ledger, check)
    judging.judged.count("checks", found.grade, found.outcome)
    return Ready(found, is_stale=is_stale)
