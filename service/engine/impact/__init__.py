"""Impact of a revision: stored lots judged again by it, and which outcomes differ. Where lots are stored is not known here."""

from service.engine.impact.documents import ImpactProgress, ImpactSummary, Interruption, Line, LotImpact
from service.engine.impact.tallying import Tally
from service.engine.impact.weighing import JudgedLot, Portion, Weighed, weigh

__all__ = [
    "ImpactProgress",
    "ImpactSummary",
    "Interruption",
    "JudgedLot",
    "Line",
    "LotImpact",
    "Portion",
    "Tally",
    "Weighed",
    "weigh",
]
