"""The points of lots in their order → the trend document."""

from collections.abc import Sequence
from fractions import Fraction

from msgspec import UNSET, UnsetType

from service.engine.numbers import reported
from service.engine.trends.capability import Limits, capability, performance
from service.engine.trends.control import control_of, signals_in
from service.engine.trends.documents import Bound, Trend
from service.engine.trends.points import Point
from service.engine.trends.spreads import Group, pooled, with_short_denominators

OPEN = Limits()
"""No limit on either side."""


def trend_of(characteristic: str, unit: str, points: Sequence[Point], limits: Limits = OPEN) -> Trend:
    """The trend of a characteristic over these lots, in their order.

    unit    symbol of the characteristic's unit, in which points and limits are
    limits  on single readings

    All figures are calculated from the lots' exact means and variances, and rounded once, when they are reported.
    """
    lots, bound = [each.document for each in points], _bound(limits)
    if not points:
        return Trend(characteristic=characteristic, unit=unit, limits=bound, lots=lots, readings=0, signals=[])
    groups = _groups(points)
    together = pooled(groups)
    inner, outer = together.within, together.overall
    means = [each.mean for each in groups]
    control = control_of(means)
    return Trend(
        characteristic=characteristic,
        unit=unit,
        limits=bound,
        lots=lots,
        readings=together.readings,
        mean=float(together.mean),
        within=inner.spread if inner else UNSET,
        overall=outer.spread if outer else UNSET,
        capability=capability(together, limits) or UNSET,
        performance=performance(together, limits) or UNSET,
        control=control.document() if control else UNSET,
        signals=list(signals_in([each.lot for each in lots], means, control, unit)) if control else [],
    )


def _groups(points: Sequence[Point]) -> list[Group]:
    """The lots with means and variances whose sums stay short."""
    means = with_short_denominators([each.mean for each in points])
    variances = with_short_denominators([each.variance or Fraction(0) for each in points])
    counts = [each.document.readings for each in points]
    return [Group(*figures) for figures in zip(counts, means, variances, strict=True)]


def _bound(limits: Limits) -> Bound | UnsetType:
    """The limits as reported; UNSET where there is none on either side."""
    return UNSET if limits == OPEN else Bound(lower=_reported(limits.lower), upper=_reported(limits.upper))


def _reported(limit: Fraction | None) -> float | UnsetType:
    return UNSET if limit is None else reported(limit)
