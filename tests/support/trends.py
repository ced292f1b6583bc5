"""Points of lots in a trend, from exact numbers or from readings."""

import statistics
from collections.abc import Sequence
from fractions import Fraction
from math import sqrt

from msgspec import UNSET

from service.engine.trends import Point
from service.engine.trends.documents import LotPoint


def point(lot: str, mean: Fraction, readings: int = 1, variance: Fraction | None = None) -> Point:
    """What is told of a lot; the variance is given where there are several readings."""
    spread = UNSET if variance is None else sqrt(variance)
    document = LotPoint(lot=lot, at="2026-01-02T06:00:00Z", readings=readings, mean=float(mean), standard_deviation=spread)
    return Point(document, mean, variance)


def points_of(lots: Sequence[Sequence[Fraction]]) -> list[Point]:
    """Of lots with these readings; their ids are `L-1`, `L-2` and so on."""
    return [
        point(f"L-{number}", statistics.mean(lot), len(lot), statistics.variance(lot) if len(lot) > 1 else None)
        for number, lot in enumerate(lots, 1)
    ]
