"""Lots in their order → their trend."""

from collections.abc import Sequence
from fractions import Fraction

from msgspec import UNSET, UnsetType

from service.engine.numerals import exact
from service.engine.trends.control import control_of, signals_in
from service.engine.trends.documents import Bound, LotPoint, Trend
from service.engine.trends.spreads import Group, capability, mean_of, overall, within


def trend_of(characteristic: str, unit: str, lots: Sequence[LotPoint], limits: Bound | UnsetType = UNSET) -> Trend:
    """How the characteristic ran over these lots, in their order.

    A lot's mean and standard deviation are taken as their numerals; from there all is exact, and each figure is rounded once.
    """
    groups = [_group(each) for each in lots]
    count = sum(each.readings for each in groups)
    if not count:
        return Trend(characteristic=characteristic, unit=unit, limits=limits, lots=lots, readings=0, signals=[])
    mean, inner, outer = mean_of(groups), within(groups), overall(groups)
    sides = (None, None) if isinstance(limits, UnsetType) else (_exactly(limits.lower), _exactly(limits.upper))
    means = [each.mean for each in groups]
    control = control_of(means)
    names = [each.lot for each in lots]
    return Trend(
        characteristic=characteristic,
        unit=unit,
        limits=limits,
        lots=lots,
        readings=count,
        mean=float(mean),
        within=inner.spread if inner else UNSET,
        overall=outer.spread if outer else UNSET,
        capability=(capability(mean, inner, count, *sides) if inner else None) or UNSET,
        performance=(capability(mean, outer, count, *sides) if outer else None) or UNSET,
        control=control.document() if control else UNSET,
        signals=list(signals_in(names, means, control, unit)) if control else [],
    )


def _group(lot: LotPoint) -> Group:
    """A lot's readings, exactly as its figures are written."""
    spread = Fraction(0) if isinstance(lot.standard_deviation, UnsetType) else exact(lot.standard_deviation)
    return Group(lot.readings, exact(lot.mean), spread**2)


def _exactly(limit: float | UnsetType) -> Fraction | None:
    return None if isinstance(limit, UnsetType) else exact(limit)
