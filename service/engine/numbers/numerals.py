"""Exact arithmetic on decimal numerals: roots compared, rounding, and the one rounding to a double when a number is reported.

A number on the wire stands for the shortest decimal numeral of its double. From there on a number is a Fraction, or a
Root where a square root is irrational; nothing is a float again before it is reported.
"""

from decimal import Decimal
from fractions import Fraction
from math import gcd, isqrt
from typing import Literal, NamedTuple

from msgspec import Struct

Ties = Literal["even", "away"]
Toward = Literal["up", "down"]
Way = Ties | Toward
"""How a value is rounded: to the nearest multiple, a tie to the even one or away from zero; or always up, or always down."""


class Root(Struct, frozen=True):
    """An irrational square root: sign × √square. Made by `root_of` alone, so that `square` is never that of a fraction."""

    square: Fraction
    sign: int = 1


Exact = Fraction | Root
ZERO = Fraction(0)
SAFE = 10**15
"""Whole numbers below it have at most 15 digits, and so are told apart by doubles: `columns.whole` holds the proof."""
SHORT = 1000
"""Most numerals have no more than three decimals, and are read by one division that gives back the double."""


def ratio(numerator: int, denominator: int) -> Fraction:
    """Numerator / denominator in lowest terms, denominator > 0.

    What Fraction(numerator, denominator) gives, in a third of its time: that one first finds out what it was given. A test
    holds the two together, and would tell if the library named its slots anew.
    """
    common = gcd(numerator, denominator)
    made: Fraction = object.__new__(Fraction)
    made._numerator, made._denominator = numerator // common, denominator // common  # type: ignore[attr-defined]  # noqa: SLF001
    return made


def multiple(number: int, step: Fraction) -> Fraction:
    """Number × step."""
    return ratio(number * step.numerator, step.denominator)


def exact(number: float) -> Fraction:
    """The shortest decimal numeral of a finite double, exactly: 0.1 is one tenth. Raises ValueError for NaN and infinities."""
    whole = round(number * SHORT)
    if whole / SHORT == number and -SAFE < whole < SAFE:
        return ratio(whole, SHORT)
    return Fraction(Decimal(repr(number)))


def root_of(square: Fraction, sign: int = 1) -> Exact:
    """Sign × √square for a square ≥ 0: a Fraction where the root is rational, a Root where it is not."""
    numerator, denominator = isqrt(square.numerator), isqrt(square.denominator)
    if numerator * numerator == square.numerator and denominator * denominator == square.denominator:
        return sign * Fraction(numerator, denominator)
    return Root(square, sign)


def is_below(value: Exact, limit: Fraction) -> bool:
    """True where value < limit. A root is compared by squares, so nothing is rounded."""
    numerator, denominator = limit.numerator, limit.denominator
    if not isinstance(value, Root):
        return value.numerator * denominator < numerator * value.denominator
    square = value.square
    is_smaller = square.numerator * denominator**2 < numerator**2 * square.denominator
    if value.sign < 0:
        return numerator >= 0 or not is_smaller
    return numerator > 0 and is_smaller


def difference(value: Exact, limit: Fraction) -> float:
    """The double nearest to value − limit, by one division of integers, which rounds correctly.

    A root is enclosed between two neighbouring multiples of 2^-n, and n is raised until both ends round to one double.
    That ends: value − limit is irrational, so it is never half-way between two doubles.
    """
    numerator, denominator = limit.numerator, limit.denominator
    if not isinstance(value, Root):
        whole = value.denominator * denominator
        return (value.numerator * denominator - numerator * value.denominator) / whole
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
    """Where a value lies beside a limit, in the numbers that are said of it."""

    value: float
    """The double nearest to the value."""
    apart: float
    """The double nearest to value less the limit."""
    shown: int
    """The whole number nearest to so many times the value, half to even."""


def placed(value: Exact, limit: Fraction, scale: int) -> Placed:
    """What `nearest_double`, `difference` and `nearest_scaled` give, by one root.

    A root lies between two neighbouring multiples of 2^-n; each of the three is a rounding, so what both ends give is given by
    all between. That ends as `difference` does.
    """
    if not isinstance(value, Root):
        return Placed(nearest_double(value), difference(value, limit), nearest_scaled(value, scale))
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
    """Round to a multiple of `step`.

    value, step  in the same unit, step > 0
    way          to the nearest multiple, where a value half-way goes to the "even" one or "away" from zero;
                 or to the next one "up" or "down", unless the value is a multiple itself

    Exact, in that unit. 36.5 turn/m at a step of 1: 36 for "even" and "down", 37 for "away" and "up".
    Source: ASTM E29, rounding method, and ISO 80000-1 Annex B, rule A, for "even"; its rule B for "away".
    """
    if isinstance(value, Root):
        in_steps = Root(value.square / (step * step), value.sign)
        if way in ("up", "down"):
            return (_floor_of_scaled(in_steps, 1) + (way == "up")) * step
        # Twice the root, floored: an irrational root is never half-way, so the floor tells the side.
        return (_floor_of_scaled(in_steps, 2) + 1) // 2 * step
    return nearest_whole((value / step).numerator, (value / step).denominator, way) * step


def nearest_whole(numerator: int, denominator: int, way: Way) -> int:
    """The whole number nearest to numerator/denominator, denominator > 0; or the next one up, or down."""
    low, rest = divmod(numerator, denominator)
    if way in ("up", "down"):
        return low + (way == "up" and rest > 0)
    if 2 * rest != denominator:
        return low + (2 * rest > denominator)
    if way == "even":
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
    return _pointed(nearest_scaled(value, 10**decimals), decimals)


def side_of(value: Exact, limit: Fraction) -> int:
    """-1 below the limit, 0 on it, 1 above it."""
    return 0 if value == limit else -1 if is_below(value, limit) else 1


def figures_beside(value: Exact, limit: Fraction, decimals: int, side: int) -> tuple[str, str]:
    """The value and its distance from the limit, as a sentence gives them.

    decimals  how many the limit has
    side      -1 where the value is below the limit, 0 on it, 1 above it

    One decimal more than the limit; more, until the figure stands on the value's own side of the limit: 1399.97 beside
    1400 is not 1400.0.
    """
    while True:
        decimals += 1
        scale = 10**decimals
        shown = nearest_scaled(value, scale)
        apart = shown - nearest_scaled(limit, scale)
        if (apart > 0) - (apart < 0) == side:
            return _pointed(shown, decimals), _pointed(abs(apart), decimals)


def plain(number: Fraction) -> str:
    """A limit as a sentence gives it: all its decimals and no more."""
    return figure(number, decimals_of(number))


MOST_DECIMALS = 6
"""So many are shown of a limit that was worked out and has more, or no end of them."""


def brief(number: Fraction) -> str:
    """A number that was worked out, as a sentence gives it: 231, 41.002278; six decimals at most, zeros at the end left off."""
    shown = figure(number, MOST_DECIMALS)
    return shown.rstrip("0").rstrip(".") if "." in shown else shown


def decimals_shown(number: Fraction) -> int:
    """How many decimals `brief` gives it."""
    return len(brief(number).partition(".")[2])


def reported(number: Fraction) -> int | float:
    """A number of the grade as a document gives it: whole ones stay whole."""
    return int(number) if number.denominator == 1 else float(number)


def _pointed(scaled: int, decimals: int) -> str:
    """13924 with one decimal: 1392.4."""
    digits = str(abs(scaled)).rjust(decimals + 1, "0")
    sign = "-" if scaled < 0 else ""
    return f"{sign}{digits[:-decimals]}.{digits[-decimals:]}" if decimals else f"{sign}{digits}"


def nearest_scaled(value: Exact, scale: int) -> int:
    """The whole number nearest to value × scale, half to even; a root is never half-way."""
    if isinstance(value, Root):
        return (_floor_of_scaled(value, 2 * scale) + 1) // 2
    return nearest_whole(value.numerator * scale, value.denominator, "even")


def _floor_of_scaled(root: Root, scale: int) -> int:
    """The greatest whole number not above root × scale; the root is irrational, so it is never met."""
    whole = isqrt(root.square.numerator * scale * scale // root.square.denominator)
    return whole if root.sign > 0 else -whole - 1
