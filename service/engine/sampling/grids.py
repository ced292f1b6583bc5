"""The qualities at which a curve is shown where the caller gives none."""

from collections.abc import Iterator
from fractions import Fraction
from itertools import count

from service.engine.sampling.curves import AttributesCurve, Curve

STEPS = 20
LEAST_ACCEPTANCE = 0.01
"""The probability of acceptance at which the grid ends."""
# Steps of 1, 2 or 5 times a power of ten, as on the axis of a chart, have short numerals in percent.
LEADING_DIGITS = (1, 2, 5)


def qualities_of_interest(curve: Curve) -> list[Fraction]:
    """About twenty evenly spaced qualities from 0 to the first accepted with 1 % or less, each a round number in percent.

    By the hypergeometric distribution they are whole numbers of packages divided by the lot's size. Where no quality is
    accepted with 1 % or less, they end at 1.
    """
    worst = curve.accepted_with_at_most(LEAST_ACCEPTANCE)
    end = Fraction(1 if worst is None else worst)
    step = _step(end, curve)
    last = -(-end // step)
    within = (number * step for number in range(last + 1))
    return [quality for quality in within if quality <= 1 or quality <= end]


def _step(end: Fraction, curve: Curve) -> Fraction:
    """The distance between two qualities of the grid that ends at `end`."""
    if isinstance(curve, AttributesCurve) and curve.law == "hypergeometric" and curve.lot is not None:
        return Fraction(-(-end * curve.lot // STEPS) or 1, curve.lot)
    return next(step for step in _round_numbers() if step * STEPS >= end)


def _round_numbers() -> Iterator[Fraction]:
    """1, 2 and 5 times each power of ten, ascending from far below any quality of interest."""
    for power in count(-15):
        yield from (digit * Fraction(10) ** power for digit in LEADING_DIGITS)
