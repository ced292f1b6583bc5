"""Columns of readings that arithmetic finds hard: what floats get wrong, ties, long numerals, no spread, many readings."""

from collections.abc import Callable
from math import inf, isqrt, nextafter
from random import Random

LEAST, GREATEST = 1e-9, 1e12


def column(rng: Random, *, may_be_long: bool, may_be_negative: bool, may_be_zero: bool) -> list[float]:
    """Readings within the range of the wire, zero and negative ones where they may be."""
    values = rng.choice(PATTERNS)(rng, length(rng, may_be_long=may_be_long))
    if not may_be_negative:
        values = [abs(value) for value in values]
    return [fitted(value, may_be_zero=may_be_zero) for value in values]


def fitted(value: float, *, may_be_zero: bool) -> float:
    """The value, or the nearest that may be sent."""
    if value == 0:
        return value if may_be_zero else 1.0
    size = min(max(abs(value), LEAST), GREATEST)
    return size if value > 0 else -size


def length(rng: Random, *, may_be_long: bool) -> int:
    """Mostly a handful, often about thirty or sixty where other arithmetic may set in, now and then thousands."""
    drawn = rng.random()
    if may_be_long and drawn < 0.003:
        return rng.choice((1000, 1001, 5000, 10_000))
    if drawn < 0.04:
        return rng.choice((62, 63, 64, 65, 66, 100, 130))
    return rng.randint(27, 40) if drawn < 0.1 else rng.randint(1, 12)


def base(rng: Random) -> float:
    """A figure of the trade, or one at an end of the range."""
    return rng.choice((1400.0, 130.0, 39.4, 7692.3, 10.0, 0.2, 1.0, 331.5, 250000.0, 0.001, 999999.5, 123456.789))


def tenths(rng: Random, number: int) -> list[float]:
    """0.1, 0.2, 0.3 and their like, whose mean floats get wrong."""
    return [rng.randint(1, 40) / 10 for _ in range(number)]


def equal(rng: Random, number: int) -> list[float]:
    """No spread at all."""
    return [rng.choice((base(rng), 0.1, 0.7, 1 / 3))] * number


def balanced(rng: Random, number: int) -> list[float]:
    """One reading and pairs on both its sides: their standard deviation is the distance where the number is odd."""
    middle, distance = base(rng), rng.choice((0.1, 0.5, 1.0, 0.001, 7.0))
    return [float(f"{middle + distance * side:.12g}") for side in (0, *((-1, 1) * (number // 2)))][:number]


def hundredths(rng: Random, number: int) -> list[float]:
    """Readings as an instrument gives them, about one figure."""
    middle = base(rng)
    return [round(middle * (1 + rng.randint(-300, 300) / 5000), rng.choice((0, 1, 2))) for _ in range(number)]


def half_steps(rng: Random, number: int) -> list[float]:
    """Half-way between two multiples of a step, mostly."""
    step = rng.choice((1, 0.1, 0.01, 0.5))
    return [float(f"{(rng.randint(0, 200) + 0.5) * step:.12g}") for _ in range(number)]


def long_numerals(rng: Random, number: int) -> list[float]:
    """Seventeen digits."""
    middle = base(rng)
    return [middle * (1 + rng.random() / 10) for _ in range(number)]


def neighbours(rng: Random, number: int) -> list[float]:
    """Doubles next to one another."""
    middle = base(rng)
    near = (middle, nextafter(middle, inf), nextafter(middle, -inf))
    return [rng.choice(near) for _ in range(number)]


def large(rng: Random, number: int) -> list[float]:
    """About the upper end of the range: squares beyond 2**53 and 2**63, sums too."""
    return [1e12 - rng.choice((0, 1, 0.0001, 0.001, 1000, 123456789.125)) * rng.randint(0, 9) for _ in range(number)]


def about_machine_words(rng: Random, number: int) -> list[float]:
    """Whole numbers of the last place, many of them, from 0 up, whose squares add up to about 2**53 or 2**63 or twice that."""
    number = rng.choice((number, 65, 70))
    sum_of_squares = rng.choice((2**53, 2**63)) * rng.choice((1, 2, 4))
    whole, places = isqrt(sum_of_squares // number), rng.choice((0, 1, 3))
    return [float(f"{rng.choice((0, whole, whole - 1, whole - rng.randint(0, 99)))}e-{places}") for _ in range(number)]


def small(rng: Random, number: int) -> list[float]:
    """About the lower end."""
    return [rng.randint(1, 99) * rng.choice((1e-9, 1e-8)) for _ in range(number)]


def mixed(rng: Random, number: int) -> list[float]:
    """All sizes together, zeros among them."""
    return [rng.choice((0.0, -0.0, 1e-9, 1e12, 0.1, 1e6, 3.0, 1e-5, 12345.678)) for _ in range(number)]


def signed(rng: Random, number: int) -> list[float]:
    """On both sides of zero."""
    return [rng.randint(-50, 50) / rng.choice((1, 10)) for _ in range(number)]


def repeated(rng: Random, number: int) -> list[float]:
    """A few figures over and over."""
    few = hundredths(rng, 5)
    return [few[place * place % 5] for place in range(number)]


PATTERNS: tuple[Callable[[Random, int], list[float]], ...] = (
    tenths,
    equal,
    balanced,
    balanced,
    hundredths,
    hundredths,
    half_steps,
    long_numerals,
    neighbours,
    large,
    small,
    about_machine_words,
    mixed,
    signed,
    repeated,
)
