"""The controllers of judgements that are not stored: checks, verdicts, draws, gradings, reviews."""

from litestar import Controller
from litestar.di import NamedDependency
from litestar.params import JSONBody, RawBody
from msgspec import Struct

from service.api.answers import EncodedDocument
from service.api.handlers import post
from service.api.judging import operations
from service.api.judging.checks import AnyCheck, CheckDTO
from service.api.judging.reviews import review_json
from service.api.operations import documented
from service.api.watching.judgements import JudgementCounter
from service.ports.catalogue import Catalogue
from service.ports.ledger import Ledger
from service.usecases.grades import GradeCache, Review
from service.usecases.judging import DrawRequest, LotToGrade, LotToJudge, check_readings, for_lot, graded, of_lot, of_reading
from service.usecases.lots import CheckOfLot, of_reading_in_lot


class Judging(Struct, frozen=True):
    """What these handlers need: grades, the ledger for checks of a lot, and the metric of judgements."""

    catalogue: Catalogue
    grade_cache: GradeCache
    ledger: Ledger
    judged: JudgementCounter
    most_readings: int
    """The most readings of one request."""


class CheckController(Controller):
    """Checks of single readings."""

    path = "/v1/checks"

    @post(dto=CheckDTO, **documented(operations.CHECK_READING))
    async def check(self, data: AnyCheck, judging: NamedDependency[Judging]) -> EncodedDocument:
        """Judge one reading."""
        if isinstance(data, CheckOfLot):
            return await _check_in_lot(data, judging)
        answer = await of_reading(judging.grade_cache, data)
        judging.judged.count("checks", data.grade, answer.outcome)
        return EncodedDocument(answer, is_stale=judging.grade_cache.is_stale)


class LotVerdictController(Controller):
    """Verdicts on lots, not stored."""

    path = "/v1/verdicts"

    @post(**documented(operations.JUDGE_LOT))
    async def judge(self, data: JSONBody[LotToJudge], judging: NamedDependency[Judging]) -> EncodedDocument:
        """Judge a lot; nothing is stored."""
        check_readings(data.evidence.series, judging.most_readings)
        verdict = await of_lot(judging.grade_cache, data)
        judging.judged.count("verdicts", data.against.grade, verdict.outcome)
        return EncodedDocument(verdict, is_stale=judging.grade_cache.is_stale)


class DrawController(Controller):
    """What to draw from lots before they are tested."""

    path = "/v1/draws"

    @post(**documented(operations.DRAW_LOT))
    async def draw(self, data: JSONBody[DrawRequest], judging: NamedDependency[Judging]) -> EncodedDocument:
        """Say what to pull from a lot; nothing is stored."""
        return EncodedDocument(await for_lot(judging.grade_cache, data), is_stale=judging.grade_cache.is_stale)


class GradingController(Controller):
    """Lots judged by several grades."""

    path = "/v1/gradings"

    @post(**documented(operations.GRADE_LOT))
    async def grade(self, data: JSONBody[LotToGrade], judging: NamedDependency[Judging]) -> EncodedDocument:
        """Judge a lot by several grades; nothing is stored."""
        check_readings(data.evidence.series, judging.most_readings)
        answer = await graded(judging.catalogue, judging.grade_cache, data)
        for grading in answer.gradings:
            judging.judged.count("gradings", grading.grade, grading.outcome)
        return EncodedDocument(answer, is_stale=judging.grade_cache.is_stale)


class ReviewController(Controller):
    """Reviews of specifications."""

    path = "/v1/reviews"

    @post(**documented(operations.REVIEW_SPECIFICATION))
    async def review(self, body: RawBody) -> Review:
        """Report every flaw of a specification, and advice; any JSON is accepted."""
        return await review_json(body)


async def _check_in_lot(check: CheckOfLot, judging: Judging) -> EncodedDocument:
    """Check one reading of a lot by the lot's own revision; nothing is recorded."""
    found, is_stale = await of_reading_in_lot(judging.grade_cache, judging.ledger, check)
    judging.judged.count("checks", found.grade, found.outcome)
    return EncodedDocument(found, is_stale=is_stale)
