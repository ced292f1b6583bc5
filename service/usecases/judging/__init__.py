"""Checks of readings, verdicts on lots, what to draw, and gradings of a lot by several grades; nothing is stored."""

from service.usecases.judging.against import below, held_by
from service.usecases.judging.drawing import DrawRequest, for_lot
from service.usecases.judging.grading import LotToGrade, graded
from service.usecases.judging.verdicts import LotToJudge, check_readings, of_lot, of_reading

__all__ = [
    "DrawRequest",
    "LotToGrade",
    "LotToJudge",
    "below",
    "check_readings",
    "for_lot",
    "graded",
    "held_by",
    "of_lot",
    "of_reading",
]
