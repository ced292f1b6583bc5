"""Qualities to show a curve at where the caller names none."""

from collections.abc import Iterator
from fractions import Fraction
from itertools import count

from service.engine.sampling.curves import AttributesCurve, Curve

STEPS = 20
SELDOM = 0.01
"""Qualities that are accepted more seldom are of no interest."""
NICE = (1, 2, 5)


def qualities_of_interest(curve: Curve) -> list[Fraction]:
    """About twenty, evenly apart, from 0 to the first that is accepted with 1 % or less; each a nice number in percent.

    By the hypergeometric law they are whole numbers of packages of the lot; at most 1, all of it, where no quality is that bad.
    """
    worst = curve.accepted_with_at_most(SELDOM)
    end = Fraction(1 if worst is None else worst)
    step = _step(end, curve)
    last = -(-end // step)
    within = (each * step for each in range(last + 1))
    return [quality for quality in within if quality <= 1 or quality <= end]


def _step(end: Fraction, curve: Curve) -> Fraction:
    """The distance between two."""
    if isinstance(curve, AttributesCurve) and curve.law == "hypergeometric" and curve.lot is not None:
        return Fraction(-(-end * curve.lot // STEPS) or 1, curve.lot)
    return next(step for step in _nice_numbers() if step * STEPS >= end)


def _nice_numbers() -> Iterator[Fraction]:
    """1, 2 and 5 times each power of ten, from far below any quality of interest on."""
    for power in count(-15):
        yield from (each * Fraction(10) ** power for each in NICE)
