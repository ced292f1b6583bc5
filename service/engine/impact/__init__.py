"""Impact of a revision: lots judged again by it, and the outcomes that differ. Reading stored lots is not done here."""

from service.engine.impact.documents import ImpactLine, ImpactProgress, ImpactSummary, Interruption, LotImpact
from service.engine.impact.judging_again import ImpactOfPortion, JudgedLot, Portion, judge_again
from service.engine.impact.tallying import Tally

__all__ = [
    "ImpactLine",
    "ImpactOfPortion",
    "ImpactProgress",
    "ImpactSummary",
    "Interruption",
    "JudgedLot",
    "LotImpact",
    "Portion",
    "Tally",
    "judge_again",
]
