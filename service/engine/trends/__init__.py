"""Lots in a row: mean, spread, capability, control limits and what breaks them, as figures and a chart."""

from service.engine.trends.capability import Capability, Interval, Limits
from service.engine.trends.chart import chart
from service.engine.trends.control import ControlLimits, Signal
from service.engine.trends.documents import Bound, LotPoint, Trend
from service.engine.trends.lacking import Lacking, lacking
from service.engine.trends.points import LeftOut, Point, limits_on, point_of
from service.engine.trends.running import trend_of
from service.engine.trends.spreads import Deviation

__all__ = [
    "Bound",
    "Capability",
    "ControlLimits",
    "Deviation",
    "Interval",
    "Lacking",
    "LeftOut",
    "Limits",
    "LotPoint",
    "Point",
    "Signal",
    "Trend",
    "chart",
    "lacking",
    "limits_on",
    "point_of",
    "trend_of",
]
