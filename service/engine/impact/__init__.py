"""What another revision of a grade would have made of lots that are judged already."""

from service.engine.impact.documents import (
    ImpactProgress,
    ImpactSummary,
    Interruption,
    Line,
    LotCount,
    LotImpact,
    RequirementCounts,
    RequirementImpact,
)
from service.engine.impact.tallying import Tally
from service.engine.impact.weighing import JudgedLot, Portion, Weighed, weigh

__all__ = [
    "ImpactProgress",
    "ImpactSummary",
    "Interruption",
    "JudgedLot",
    "Line",
    "LotCount",
    "LotImpact",
    "Portion",
    "RequirementCounts",
    "RequirementImpact",
    "Tally",
    "Weighed",
    "weigh",
]
