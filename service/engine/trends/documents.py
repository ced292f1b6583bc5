"""The trend document: lots in their order, and what they come to together."""

from collections.abc import Sequence

from msgspec import UNSET, Struct, UnsetType

from service.engine.trends.capability import Capability
from service.engine.trends.control import ControlLimits, Signal
from service.engine.trends.spreads import Deviation


class LotPoint(Struct, frozen=True, kw_only=True):
    """The readings of one lot, in the characteristic's unit; a mean of one reading has no standard deviation."""

    lot: str
    at: str
    """The moment by which lots are ordered."""
    readings: int
    mean: float
    standard_deviation: float | UnsetType = UNSET
    """By n less one."""


class Bound(Struct, frozen=True, kw_only=True):
    """The limits of the grade on single readings, either side of which may be left open."""

    lower: float | UnsetType = UNSET
    upper: float | UnsetType = UNSET


class Trend(Struct, frozen=True, kw_only=True):
    """How a characteristic ran over these lots."""

    characteristic: str
    unit: str
    limits: Bound | UnsetType = UNSET
    lots: Sequence[LotPoint]
    readings: int
    mean: float | UnsetType = UNSET
    """Of all readings; left out where there is no lot."""
    within: Deviation | UnsetType = UNSET
    """Of readings within their lots, pooled; left out while no lot has two."""
    overall: Deviation | UnsetType = UNSET
    """Of all readings about their mean; left out while there are not two."""
    capability: Capability | UnsetType = UNSET
    """Cp and Cpk, by the spread within lots."""
    performance: Capability | UnsetType = UNSET
    """Pp and Ppk, by the overall spread."""
    control: ControlLimits | UnsetType = UNSET
    """Of the lots' means; left out while there are not two."""
    signals: Sequence[Signal]
    """What speaks against a process that runs evenly; then a capability foretells nothing."""
