"""The specification and its compilation into a grade that judges, or every flaw in it. Nothing here knows a lot."""

from service.engine.grade.compilation import SEARCHED, CompiledGrade, compile_specification
from service.engine.grade.reading_plans import ReadingPlan
from service.engine.grade.specification import MOST_REQUIREMENTS, Specification

__all__ = [
    "MOST_REQUIREMENTS",
    "SEARCHED",
    "CompiledGrade",
    "ReadingPlan",
    "Specification",
    "compile_specification",
]
