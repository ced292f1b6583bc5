"""Lots in a row: mean, spread, capability, control limits and what breaks them, as figures and a chart."""

from service.engine.trends.chart import chart
from service.engine.trends.control import ControlLimits, Signal
from service.engine.trends.documents import Bound, LotPoint, Trend
from service.engine.trends.running import trend_of
from service.engine.trends.spreads import Capability, Interval, Spread

__all__ = ["Bound", "Capability", "ControlLimits", "Interval", "LotPoint", "Signal", "Spread", "Trend", "chart", "trend_of"]
