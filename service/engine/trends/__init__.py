"""Trends of a characteristic over lots: spread, capability, control limits and a chart. No lot is judged here."""

from service.engine.trends.charting import chart
from service.engine.trends.documents import Trend
from service.engine.trends.missing import Lacking, lacking
from service.engine.trends.points import LeftOut, Point, limits_on, point_of
from service.engine.trends.running import trend_of

__all__ = [
    "Lacking",
    "LeftOut",
    "Point",
    "Trend",
    "chart",
    "lacking",
    "limits_on",
    "point_of",
    "trend_of",
]
