"""Checks, verdicts, reviews."""

import msgspec

from service.api.decoding import Shape, decode
from service.api.grammar import parse
from service.api.problems import Answer
from service.api.requests import Request
from service.api.service import Service, shown
from service.api.shapes import check_shape
from service.engine.evidence import Check
from service.engine.specification import Specification
from service.usecases.judging import LotToJudge, of_lot, of_reading
from service.usecases.reviewing import Review, review

CHECK, LOT = Shape(Check), Shape(LotToJudge)
STALE = ((b"x-catalogue-stale", b"true"),)


async def check_reading(request: Request, service: Service) -> Answer:
    """Judge one reading."""
    answer = await of_reading(service.shelf, decode(request.body, CHECK))
    service.outcomes["checks", answer.outcome] += 1
    return shown(answer, headers=STALE if service.shelf.is_stale else ())


async def judge_lot(request: Request, service: Service) -> Answer:
    """Judge a lot; nothing is stored."""
    verdict = await of_lot(service.shelf, decode(request.body, LOT))
    service.outcomes["verdicts", verdict.outcome] += 1
    return shown(verdict, headers=STALE if service.shelf.is_stale else ())


async def review_specification(request: Request, service: Service) -> Answer:  # noqa: ARG001  the signature of all handlers
    """Every flaw of a specification, and advice; any JSON is answered."""
    document = parse(request.body)
    if flaws := check_shape(document, Specification):
        return shown(Review(flaws, []))
    return shown(review(msgspec.convert(document, Specification)))
