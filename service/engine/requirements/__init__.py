"""The kinds of requirement, one module each: its document, its flaws, how it compiles, how it judges. `kinds` lists them."""

from service.engine.requirements.attributes import AttributesRule
from service.engine.requirements.attributes_document import RetestOfCounts
from service.engine.requirements.documents import OnCharacteristic, Retest
from service.engine.requirements.each import VALUE_POINTERS, EachRule
from service.engine.requirements.grade_context import GradeContext
from service.engine.requirements.kinds import ENGINE_1, CompiledRequirement, Requirement
from service.engine.requirements.limits.rules import LimitedRule
from service.engine.requirements.mean import MeanRule
from service.engine.requirements.measuring import MeasuredRule
from service.engine.requirements.quality import ContentK, PlanK
from service.engine.requirements.rate import RateRule
from service.engine.requirements.retesting import findings_of, with_retest_sample
from service.engine.requirements.rules import Rule
from service.engine.requirements.variables import VariablesRule

__all__ = [
    "ENGINE_1",
    "VALUE_POINTERS",
    "AttributesRule",
    "CompiledRequirement",
    "ContentK",
    "EachRule",
    "GradeContext",
    "LimitedRule",
    "MeanRule",
    "MeasuredRule",
    "OnCharacteristic",
    "PlanK",
    "RateRule",
    "Requirement",
    "Retest",
    "RetestOfCounts",
    "Rule",
    "VariablesRule",
    "findings_of",
    "with_retest_sample",
]
