"""Exact arithmetic on decimal numerals: roots compared, rounding, and the one rounding to a double when a number is reported.

A number on the wire stands for the shortest decimal numeral of its double. From there on a number is a Fraction, or a
Root where a square root is irrational; nothing is a float again before it is reported.
"""

from decimal import Decimal
from fractions import Fraction
from math import isqrt
from typing import Literal

from msgspec import Struct

Ties = Literal["even", "away"]


class Root(Struct, frozen=True):
    """An irrational square root: sign × √square. Made by `root_of` alone, so that `square` is never that of a fraction."""

    square: Fraction
    sign: int = 1


Exact = Fraction | Root


def exact(number: float) -> Fraction:
    """The shortest decimal numeral of a finite double, exactly: 0.1 is one tenth. Raises ValueError for NaN and infinities."""
    return Fraction(Decimal(repr(number)))


def root_of(square: Fraction, sign: int = 1) -> Exact:
    """Sign × √square for a square ≥ 0: a Fraction where the root is rational, a Root where it is not."""
    numerator, denominator = isqrt(square.numerator), isqrt(square.denominator)
    if numerator * numerator == square.numerator and denominator * denominator == square.denominator:
        return sign * Fraction(numerator, denominator)
    return Root(square, sign)


def is_below(value: Exact, limit: Fraction) -> bool:
    """Is value < limit? A root is compared by squares, so nothing is rounded."""
    if isinstance(value, Fraction):
        return value < limit
    if value.sign < 0:
        return limit >= 0 or value.square > limit * limit
    return limit > 0 and value.square < limit * limit


def difference(value: Exact, limit: Fraction) -> float:
    """The double nearest to value − limit.

    A root is enclosed between two neighbouring multiples of 2^-n, and n is raised until both ends round to one double.
    That ends: value − limit is irrational, so it is never half-way between two doubles.
    """
    if isinstance(value, Fraction):
        return float(value - limit)
    bits = 64
    while True:
        low = _floor_of_scaled(value, 1 << bits)
        least, greatest = (float(Fraction(end, 1 << bits) - limit) for end in (low, low + 1))
        if least == greatest:
            return least
        bits *= 2


def nearest_double(value: Exact) -> float:
    """The double nearest to the number, ties to even."""
    return float(value) if isinstance(value, Fraction) else difference(value, Fraction(0))


def to_step(value: Exact, step: Fraction, ties: Ties) -> Fraction:
    """Round to a multiple of `step`.

    value, step  in the same unit, step > 0
    ties         where a value half-way goes: to the "even" multiple, or "away" from zero

    Exact, in that unit. 36.5 turn/m at a step of 1: 36 for "even", 37 for "away".
    Source: ASTM E29, rounding method, and ISO 80000-1 Annex B, rule A, for "even"; its rule B for "away".
    """
    if isinstance(value, Root):
        # Twice the root, floored: an irrational root is never half-way, so the floor tells the side.
        doubled = _floor_of_scaled(Root(value.square / (step * step), value.sign), 2)
        return (doubled + 1) // 2 * step
    return nearest_whole((value / step).numerator, (value / step).denominator, ties) * step


def nearest_whole(numerator: int, denominator: int, ties: Ties) -> int:
    """The whole number nearest to numerator/denominator, denominator > 0."""
    low, rest = divmod(numerator, denominator)
    if 2 * rest != denominator:
        return low + (2 * rest > denominator)
    if ties == "even":
        return low + (low & 1)
    return low + (numerator > 0)


def decimals_of(number: Fraction) -> int:
    """How many decimals its numeral has: 123.5 has 1, 1400 none. The number is a sum of decimal numerals."""
    decimals, scaled = 0, number
    while scaled.denominator != 1:
        scaled *= 10
        decimals += 1
    return decimals


def figure(value: Exact, decimals: int) -> str:
    """The number in words of a sentence: that many decimals, half to even, never an exponent."""
    if isinstance(value, Root):
        scaled = (_floor_of_scaled(value, 2 * 10**decimals) + 1) // 2
    else:
        scaled = nearest_whole(value.numerator * 10**decimals, value.denominator, "even")
    digits = f"{abs(scaled):0{decimals + 1}d}"
    sign = "-" if scaled < 0 else ""
    return f"{sign}{digits[:-decimals]}.{digits[-decimals:]}" if decimals else f"{sign}{digits}"


def figures_beside(value: Exact, limit: Fraction) -> tuple[str, str]:
    """The value and its distance from the limit, as a sentence gives them.

    One decimal more than the limit has; more, until the figure stands on the value's own side of the limit:
    1399.97 beside 1400 is not 1400.0.
    """
    decimals = decimals_of(limit) + 1
    if value == limit:
        return figure(value, decimals), figure(Fraction(0), decimals)
    below = is_below(value, limit)
    while True:
        shown = figure(value, decimals)
        there = Fraction(shown)
        if there != limit and (there < limit) == below:
            return shown, figure(abs(there - limit), decimals)
        decimals += 1


def plain(number: Fraction) -> str:
    """A limit as a sentence gives it: all its decimals and no more."""
    return figure(number, decimals_of(number))


def reported(number: Fraction) -> int | float:
    """A number of the grade as a document gives it: whole ones stay whole."""
    return int(number) if number.denominator == 1 else float(number)


def _floor_of_scaled(root: Root, scale: int) -> int:
    """The greatest whole number not above root × scale; the root is irrational, so it is never met."""
    square = root.square * scale * scale
    whole = isqrt(square.numerator // square.denominator)
    return whole if root.sign > 0 else -whole - 1
