"""Checks, verdicts, reviews."""

from functools import partial

from service.api.checks import BY_GRADE, may_name_lot, sent_check
from service.api.decoding import Shape, at_once, decode_and, decoded
from service.api.problems import OK, Answer
from service.api.requests import Request
from service.api.reviews import reviewed
from service.api.service import Service, shown
from service.engine.evidence import Check
from service.engine.prepared import Passed
from service.engine.verdict import CheckAnswer, Verdict
from service.usecases.drawing import DrawRequest, for_lot
from service.usecases.grading import LotToGrade, graded
from service.usecases.judging import LotToJudge, check_readings, of_lot, of_reading, of_reading_at_once
from service.usecases.ledger.checking import CheckOfLot, of_reading_in_lot

LOT, DRAW, GRADE = Shape(LotToJudge), Shape(DrawRequest), Shape(LotToGrade)
STALE = (("x-catalogue-stale", "true"),)


async def check_reading(request: Request, service: Service) -> Answer:
    """Judge one reading."""
    if may_name_lot(request.body):
        return await _check_reading_perhaps_of_lot(request, service)
    # Nothing that is here already is waited for: a station's check takes few steps, and each counts.
    check = at_once(request.body, BY_GRADE)
    if check is None:
        check = await decoded(request.body, BY_GRADE)
    answer = of_reading_at_once(service.shelf, check) or await of_reading(service.shelf, check)
    return _of_check(service, check, answer)


async def _check_reading_perhaps_of_lot(request: Request, service: Service) -> Answer:
    """Judge one reading, most likely of a lot; nothing is recorded."""
    check = await sent_check(request.body)
    if isinstance(check, CheckOfLot):
        found, is_stale = await of_reading_in_lot(service.shelf, service.ledger, check)
        service.judged.count("checks", found.grade, found.outcome)
        return shown(found, headers=STALE if is_stale else ())
    return _of_check(service, check, await of_reading(service.shelf, check))


def _of_check(service: Service, check: Check, answer: CheckAnswer | Passed) -> Answer:
    """What is sent of it, and counted."""
    service.judged.count("checks", check.grade, answer.outcome)
    return _shown(answer, service)


def _shown(answer: CheckAnswer | Verdict | Passed, service: Service) -> Answer:
    """What is sent of it."""
    headers = STALE if service.shelf.is_stale else ()
    return Answer(OK, answer.document, headers=headers) if isinstance(answer, Passed) else shown(answer, headers=headers)


async def judge_lot(request: Request, service: Service) -> Answer:
    """Judge a lot; nothing is stored."""
    lot = await decode_and(partial(of_lot, service.shelf), request.body, LOT)
    check_readings(lot.evidence.series, service.most_readings)
    verdict = await of_lot(service.shelf, lot)
    service.judged.count("verdicts", lot.against.grade, verdict.outcome)
    return _shown(verdict, service)


async def draw_lot(request: Request, service: Service) -> Answer:
    """Say what to pull from a lot; nothing is stored."""
    asked = await decode_and(partial(for_lot, service.shelf), request.body, DRAW)
    answer = await for_lot(service.shelf, asked)
    return shown(answer, headers=STALE if service.shelf.is_stale else ())


async def grade_lot(request: Request, service: Service) -> Answer:
    """Judge a lot by several grades; nothing is stored."""
    look = partial(graded, service.catalogue, service.shelf)
    lot = await decode_and(look, request.body, GRADE)
    check_readings(lot.evidence.series, service.most_readings)
    answer = await look(lot)
    for each in answer.gradings:
        service.judged.count("gradings", each.grade, each.outcome)
    return shown(answer, headers=STALE if service.shelf.is_stale else ())


async def review_specification(request: Request, service: Service) -> Answer:
    """Every flaw of a specification, and advice; any JSON is answered."""
    return shown(await reviewed(request.body))
