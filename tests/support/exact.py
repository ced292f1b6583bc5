"""Exact arithmetic done slowly: numerals as fractions, units, rounding, roots between two bounds.

Nothing here is shared with the engine, so that the two can only agree by both being right.
"""

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from math import isqrt
from typing import NamedTuple

POUND, FOOT = Fraction("0.45359237"), Fraction("0.3048")
GRAVITY = Fraction("9.80665")
TEX = Fraction("0.000001")

FACTORS: dict[str, tuple[str, Fraction]] = {
    "N": ("force", Fraction(1)),
    "cN": ("force", Fraction(1, 100)),
    "daN": ("force", Fraction(10)),
    "kN": ("force", Fraction(1000)),
    "kgf": ("force", GRAVITY),
    "ozf": ("force", POUND * GRAVITY / 16),
    "lbf": ("force", POUND * GRAVITY),
    "g": ("mass", Fraction(1, 1000)),
    "kg": ("mass", Fraction(1)),
    "oz": ("mass", POUND / 16),
    "lb": ("mass", POUND),
    "mm": ("length", Fraction(1, 1000)),
    "m": ("length", Fraction(1)),
    "in": ("length", FOOT / 12),
    "ft": ("length", FOOT),
    "m/kg": ("length_per_mass", Fraction(1)),
    "m/g": ("length_per_mass", Fraction(1000)),
    "ft/lb": ("length_per_mass", FOOT / POUND),
    "yd/lb": ("length_per_mass", 3 * FOOT / POUND),
    "tex": ("mass_per_length", TEX),
    "dtex": ("mass_per_length", TEX / 10),
    "ktex": ("mass_per_length", TEX * 1000),
    "den": ("mass_per_length", TEX / 9),
    "lb/ft": ("mass_per_length", POUND / FOOT),
    "turn/m": ("turns_per_length", Fraction(1)),
    "turn/cm": ("turns_per_length", Fraction(100)),
    "turn/in": ("turns_per_length", 12 / FOOT),
    "turn/ft": ("turns_per_length", 1 / FOOT),
    "N/tex": ("force_per_mass_per_length", 1 / TEX),
    "cN/tex": ("force_per_mass_per_length", 1 / TEX / 100),
    "gf/den": ("force_per_mass_per_length", GRAVITY / 1000 / (TEX / 9)),
    "%": ("ratio", Fraction(1, 100)),
    "1": ("ratio", Fraction(1)),
}
"""The quantity of a unit and its factor to SI, from the definitions of pound, foot, standard gravity and tex."""

SCALE = 10**150


def exact(number: float) -> Fraction:
    """The shortest decimal numeral of a double, exactly."""
    return Fraction(Decimal(repr(float(number))))


def converted(value: Fraction, unit: str, wanted: str) -> Fraction:
    """The same reading in another unit; in a unit of the reciprocal quantity it is turned round."""
    (quantity, factor), (wanted_quantity, wanted_factor) = FACTORS[unit], FACTORS[wanted]
    if quantity == wanted_quantity:
        return value * factor / wanted_factor
    return 1 / (value * factor) / wanted_factor


def to_step(value: Fraction, step: Fraction, ties: str) -> Fraction:
    """The nearest multiple of `step`; half-way to the even one, or away from zero."""
    if value < 0:
        return -to_step(-value, step, ties)
    multiple = value // step
    rest = value - multiple * step
    goes_up = rest * 2 > step or (rest * 2 == step and (ties == "away" or multiple % 2 == 1))
    return (multiple + (1 if goes_up else 0)) * step


class Root(NamedTuple):
    """A root between two bounds, which are equal where the root is rational."""

    low: Fraction
    high: Fraction

    def double(self, of: Callable[[Fraction], Fraction]) -> float:
        """What `of` makes of the root, rounded once; the bounds must leave no doubt."""
        low, high = float(of(self.low)), float(of(self.high))
        assert low == high, "the bounds are too wide"
        return low


def root(square: Fraction) -> Root:
    """The root of a number that is not negative, to 150 digits after the point, or exactly."""
    top, bottom = isqrt(square.numerator), isqrt(square.denominator)
    if Fraction(top, bottom) ** 2 == square:
        return Root(Fraction(top, bottom), Fraction(top, bottom))
    whole = isqrt(square.numerator * SCALE**2 // square.denominator)
    return Root(Fraction(whole, SCALE), Fraction(whole + 1, SCALE))


def root_to_step(square: Fraction, step: Fraction, ties: str) -> Fraction:
    """The root of `square`, rounded to a multiple of `step`; the half-way point is compared by squares."""
    multiple = isqrt(int(square / step**2))
    half_way = ((2 * multiple + 1) * step / 2) ** 2
    goes_up = square > half_way or (square == half_way and (ties == "away" or multiple % 2 == 1))
    return (multiple + (1 if goes_up else 0)) * step
