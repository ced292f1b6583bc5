"""Impact of a revision: stored lots judged again by it, and which outcomes differ. Where lots are stored is not known here."""

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
