"""Exact numbers: decimal numerals as Fractions, irrational square roots, comparison, rounding, and conversion for reports.

A number on the wire means the shortest decimal numeral of its double. From there on it is a Fraction, or a Root for an
irrational square root, until it is rounded to a double or to figures for a report.
"""

from decimal import Decimal
from fractions import Fraction
from math import gcd, isqrt
from typing import Literal, NamedTuple

from msgspec import Struct

Ties = Literal["even", "away"]
Toward = Literal["up", "down"]
Way = Ties | Toward
"""The rounding mode: to the nearest multiple with ties to the even one or away from zero; or always up, or always down."""


class Root(Struct, frozen=True):
    """An irrational square root, sign × √square. Make it with `root_of`, which returns a Fraction for a rational root."""

    square: Fraction
    sign: int = 1


Exact = Fraction | Root
ZERO = Fraction(0)
SAFE = 10**15
"""Whole numbers below it have at most 15 digits, so that no two round to one double; proof in `columns.whole`."""
SHORT = 1000
"""The power of ten of `exact`'s fast way: most numerals have no more than three decimals."""


def ratio(numerator: int, denominator: int) -> Fraction:
    """Fraction(numerator, denominator) in a third of its time, for integers with denominator > 0."""
    # Fraction's constructor first inspects the types of its arguments. The slots are private, so
    # tests/engine/numbers/test_numerals.py compares both ways, and fails if a version of Python renames them.
    common = gcd(numerator, denominator)
    made: Fraction = object.__new__(Fraction)
    made._numerator, made._denominator = numerator // common, denominator // common  # type: ignore[attr-defined]  # noqa: SLF001
    return made


def multiple(number: int, step: Fraction) -> Fraction:
    """Number × step, exactly."""
    return ratio(number * step.numerator, step.denominator)


def exact(number: float) -> Fraction:
    """The shortest decimal numeral of a finite double, exactly: 0.1 is one tenth. Raises ValueError for NaN and infinities."""
    # If whole / 1000 is the double again and whole has 15 digits at most, it is the numeral: see `columns.whole`.
    whole = round(number * SHORT)
    if whole / SHORT == number and -SAFE < whole < SAFE:
        return ratio(whole, SHORT)
    return Fraction(Decimal(repr(number)))


def root_of(square: Fraction, sign: int = 1) -> Exact:
    """Sign × √square for a square ≥ 0: a Fraction where the root is rational, else a Root."""
    # In lowest terms a fraction is a square exactly if its numerator and its denominator are.
    numerator, denominator = isqrt(square.numerator), isqrt(square.denominator)
    if numerator * numerator == square.numerator and denominator * denominator == square.denominator:
        return sign * Fraction(numerator, denominator)
    return Root(square, sign)


def is_below(value: Exact, limit: Fraction) -> bool:
    """Whether value < limit, exactly: a root is compared by squares."""
    numerator, denominator = limit.numerator, limit.denominator
    if not isinstance(value, Root):
        return value.numerator * denominator < numerator * value.denominator
    square = value.square
    is_smaller = square.numerator * denominator**2 < numerator**2 * square.denominator
    if value.sign < 0:
        return numerator >= 0 or not is_smaller
    return numerator > 0 and is_smaller


def difference(value: Exact, limit: Fraction) -> float:
    """The double nearest to value − limit."""
    numerator, denominator = limit.numerator, limit.denominator
    if not isinstance(value, Root):
        whole = value.denominator * denominator
        # Python's division of integers rounds correctly, whatever their size.
        return (value.numerator * denominator - numerator * value.denominator) / whole
    # A root is enclosed between two neighbouring multiples of 2^-bits, and bits raised until both ends round to one double.
    # That ends: value − limit is irrational, so it is never half-way between two doubles.
    bits = 64
    while True:
        low = _floor_of_scaled(value, 1 << bits) * denominator - (numerator << bits)
        least, greatest = low / (denominator << bits), (low + denominator) / (denominator << bits)
        if least == greatest:
            return least
        bits *= 2


def nearest_double(value: Exact) -> float:
    """The double nearest to the number, ties to even."""
    return difference(value, ZERO) if isinstance(value, Root) else value.numerator / value.denominator


class Placed(NamedTuple):
    """A value beside a limit in the numbers that a finding reports."""

    value: float
    """The double nearest to the value."""
    apart: float
    """The double nearest to value less limit."""
    shown: int
    """The whole number nearest to value times scale, half to even."""


def placed(value: Exact, limit: Fraction, scale: int) -> Placed:
    """The results of `nearest_double`, `difference` and `nearest_scaled` together, with one extraction of a root."""
    if not isinstance(value, Root):
        return Placed(nearest_double(value), difference(value, limit), nearest_scaled(value, scale))
    # Each of the three is a rounding, so where both ends of an enclosure agree, all numbers between them do. The loop ends for
    # the reason that `difference` gives.
    (numerator, denominator), bits, twice = limit.as_integer_ratio(), 64, 2 * scale
    while True:
        low, one = _floor_of_scaled(value, 1 << bits), 1 << bits
        apart, whole, halves = low * denominator - (numerator << bits), denominator << bits, twice * low >> bits
        nearest, distance = low / one, apart / whole
        is_settled = nearest == (low + 1) / one and distance == (apart + denominator) / whole
        if is_settled and halves == twice * (low + 1) >> bits:
            return Placed(nearest, distance, (halves + 1) // 2)
        bits *= 2


def to_step(value: Exact, step: Fraction, way: Way) -> Fraction:
    """The value rounded to a multiple of `step`.

    value, step  in the same unit, step > 0
    way          to the nearest multiple, with a value half-way to the "even" one or "away" from zero; or to the next
                 one "up" or "down", unless the value is a multiple itself

    Exact, in that unit. 36.5 turn/m at a step of 1: 36 for "even" and "down", 37 for "away" and "up".
    Source: ASTM E29, rounding method, and ISO 80000-1 Annex B, rule A, for "even"; its rule B for "away".
    """
    if isinstance(value, Root):
        in_steps = Root(value.square / (step * step), value.sign)
        if way in ("up", "down"):
            return (_floor_of_scaled(in_steps, 1) + (way == "up")) * step
        # Twice the root, floored: an irrational root is never half-way, so the floor decides.
        return (_floor_of_scaled(in_steps, 2) + 1) // 2 * step
    return nearest_whole((value / step).numerator, (value / step).denominator, way) * step


def nearest_whole(numerator: int, denominator: int, way: Way) -> int:
    """The quotient rounded to a whole number by the mode `way`; denominator > 0."""
    low, rest = divmod(numerator, denominator)
    if way in ("up", "down"):
        return low + (way == "up" and rest > 0)
    if 2 * rest != denominator:
        return low + (2 * rest > denominator)
    if way == "even":
        return low + (low & 1)
    return low + (numerator > 0)


def decimals_of(number: Fraction) -> int:
    """The number of decimals of a decimal numeral: 1 for 123.5, 0 for 1400."""
    # It ends only for a sum of decimal numerals; 1/3 would go on for ever.
    decimals, scaled = 0, number
    while scaled.denominator != 1:
        scaled *= 10
        decimals += 1
    return decimals


def figure(value: Exact, decimals: int) -> str:
    """The number as text with at most this many decimals, rounded half to even, without zeros at its end or an exponent."""
    return _with_point(nearest_scaled(value, 10**decimals), decimals)


def side_of(value: Exact, limit: Fraction) -> int:
    """The sign of value − limit: -1, 0 or 1."""
    return 0 if value == limit else -1 if is_below(value, limit) else 1


def figures_beside(value: Exact, limit: Fraction, decimals: int, side: int) -> tuple[str, str]:
    """The value and its distance from the limit as text, for a sentence.

    decimals  how many the limit has
    side      -1 where the value is below the limit, 0 on it, 1 above it

    One decimal more than the limit has, and further ones until the figure is on the value's side of the limit: 1399.97
    beside 1400 is not 1400.0.
    """
    while True:
        decimals += 1
        scale = 10**decimals
        shown = nearest_scaled(value, scale)
        apart = shown - nearest_scaled(limit, scale)
        if (apart > 0) - (apart < 0) == side:
            return _with_point(shown, decimals), _with_point(abs(apart), decimals)


def plain(number: Fraction) -> str:
    """A decimal numeral as text with all its decimals and no more."""
    return figure(number, decimals_of(number))


MOST_DECIMALS = 6
"""Decimals shown of a calculated limit that has more, or infinitely many."""


def brief(number: Fraction) -> str:
    """A calculated number as text: 231, 41.002278; six decimals at most."""
    return figure(number, MOST_DECIMALS)


def decimals_shown(number: Fraction) -> int:
    """The number of decimals that `brief` shows."""
    return len(brief(number).partition(".")[2])


def reported(number: Fraction) -> int | float:
    """A number of the grade for a document: an int where it is whole, else the nearest double."""
    return int(number) if number.denominator == 1 else float(number)


def _with_point(scaled: int, decimals: int) -> str:
    """A number given in units of its last decimal, as text without zeros at its end: 1392.4 for 139240 and two decimals."""
    digits = str(abs(scaled)).rjust(decimals + 1, "0")
    sign = "-" if scaled < 0 else ""
    return f"{sign}{digits[:-decimals]}.{digits[-decimals:]}".rstrip("0").rstrip(".") if decimals else f"{sign}{digits}"


def nearest_scaled(value: Exact, scale: int) -> int:
    """The whole number nearest to value × scale, half to even; an irrational root is never half-way."""
    if isinstance(value, Root):
        return (_floor_of_scaled(value, 2 * scale) + 1) // 2
    return nearest_whole(value.numerator * scale, value.denominator, "even")


def _floor_of_scaled(root: Root, scale: int) -> int:
    """The greatest whole number below root × scale, which is irrational and so never whole itself."""
    whole = isqrt(root.square.numerator * scale * scale // root.square.denominator)
    return whole if root.sign > 0 else -whole - 1
