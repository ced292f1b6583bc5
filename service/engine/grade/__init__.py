"""The specification document, and its compilation into a grade that judges lots, or the list of all its flaws."""

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
