"""The trend document: lots in their order, and the figures that result from all of them."""

from collections.abc import Sequence

from msgspec import UNSET, Struct, UnsetType

from service.engine.trends.capability import Capability
from service.engine.trends.control import ControlLimits, Signal
from service.engine.trends.spreads import Deviation


class LotPoint(Struct, frozen=True, kw_only=True):
    """One lot of a trend, in the characteristic's unit; a lot of one reading has no standard deviation."""

    lot: str
    at: str
    """The moment by which the lots are ordered: that of the lot's first verdict."""
    readings: int
    mean: float
    standard_deviation: float | UnsetType = UNSET
    """Sample standard deviation, with n - 1."""


class Bound(Struct, frozen=True, kw_only=True):
    """The limits of the grade on single readings; a side without a limit is left out."""

    lower: float | UnsetType = UNSET
    upper: float | UnsetType = UNSET


class Trend(Struct, frozen=True, kw_only=True):
    """The trend of a characteristic over lots."""

    characteristic: str
    unit: str
    limits: Bound | UnsetType = UNSET
    lots: Sequence[LotPoint]
    readings: int
    mean: float | UnsetType = UNSET
    """Mean of all readings; left out where there is no lot."""
    within: Deviation | UnsetType = UNSET
    """Spread of readings within their lots, pooled; left out while no lot has two readings."""
    overall: Deviation | UnsetType = UNSET
    """Spread of all readings about their mean; left out while there are fewer than two."""
    capability: Capability | UnsetType = UNSET
    """Cp and Cpk, from the spread within lots."""
    performance: Capability | UnsetType = UNSET
    """Pp and Ppk, from the overall spread."""
    control: ControlLimits | UnsetType = UNSET
    """Control limits of the lots' means; left out while there are fewer than two lots."""
    signals: Sequence[Signal]
    """Signals that the process is not stable; a capability predicts nothing while there are any."""
