"""Interval arithmetic on exact numbers: a number between two ends, calculated in full only where the ends don't decide.

The exact sum of a thousand reciprocals has a numerator of thousands of digits. Questions about it (is it below the limit,
to which double or step does it round, which figures does a sentence show) hardly ever need them: where both ends of an
enclosure give the same answer, so does every number between them.
"""

from collections.abc import Callable
from fractions import Fraction
from functools import cache
from itertools import product
from typing import Generic, TypeVar

from service.engine.numbers.numerals import Exact, root_of

Held_co = TypeVar("Held_co", bound=Exact, covariant=True)
Number = TypeVar("Number", bound=Exact)
Answer = TypeVar("Answer")
# A statistic that 512 bits don't settle nearly always lies exactly on the edge, which no enclosure settles.
WIDTHS = (128, 256, 512)
"""Bits after the binary point, tried in this order."""


class Enclosure(Generic[Held_co]):
    """A number known between two ends that can be narrowed, with a slow function for its exact value."""

    __slots__ = ("between", "exactly")

    def __init__(self, ends: Callable[[int], tuple[Held_co, Held_co] | None], exactly: Callable[[], Held_co]) -> None:
        """Take the two functions; the result of each is cached.

        ends     given a number of bits after the binary point, two numbers in either order that enclose the number, ends
                 included; None where so few bits give no enclosure
        exactly  the number
        """
        self.between, self.exactly = cache(ends), cache(exactly)


Known = Fraction | Enclosure[Fraction]
KnownExact = Exact | Enclosure[Exact]


def answered(number: Number | Enclosure[Number], question: Callable[[Number], Answer]) -> Answer:
    """The answer to a question about the number: that of both ends where they agree, else that of the exact number.

    question  a function that has the same value between two numbers as at both, where these agree: a comparison, a
              rounding, and whatever is made of these alone
    """
    if not isinstance(number, Enclosure):
        return question(number)
    for bits in WIDTHS:
        ends = number.between(bits)
        if ends and (answer := question(ends[0])) == question(ends[1]):
            return answer
    return question(number.exactly())


def combined(function: Callable[..., Fraction], *numbers: Known) -> Known:
    """The function's value at these numbers, enclosed where one of them is.

    function  monotonic in each argument as long as no argument changes its sign
    """
    if not any(isinstance(number, Enclosure) for number in numbers):
        return function(*numbers)

    def ends(bits: int) -> tuple[Fraction, Fraction] | None:
        sides = [_ends_clear_of_zero(number, bits) for number in numbers]
        if not all(sides):
            return None
        # Monotonic in each argument, so the least and the greatest value over the box are at corners of it.
        corners = [function(*corner) for corner in product(*(side for side in sides if side))]
        return min(corners), max(corners)

    return Enclosure(ends, lambda: function(*(exactly(number) for number in numbers)))


def exactly(number: Known) -> Fraction:
    """The exact number; slow for an enclosure, as its numerator and denominator may have millions of digits."""
    return number.exactly() if isinstance(number, Enclosure) else number


def middle(number: Known) -> Fraction:
    """The number itself, or the middle of its narrowest enclosure, whose width is some 2⁻⁵⁰⁰ at most.

    For figures of many numbers, whose exact sum would take too long; comparisons with a limit go through `answered`.
    """
    ends = number.between(WIDTHS[-1]) if isinstance(number, Enclosure) else None
    return (ends[0] + ends[1]) / 2 if ends else exactly(number)


def rooted(square: Known, sign: int = 1) -> KnownExact:
    """Sign × √square for a square ≥ 0, enclosed by the roots of the ends where the square is enclosed."""
    if not isinstance(square, Enclosure):
        return root_of(square, sign)

    def ends(bits: int) -> tuple[Exact, Exact] | None:
        found = square.between(bits)
        return (root_of(found[0], sign), root_of(found[1], sign)) if found else None

    return Enclosure(ends, lambda: root_of(square.exactly(), sign))


def _ends_clear_of_zero(number: Known, bits: int) -> tuple[Fraction, Fraction] | None:
    """The ends of a number, None where they are not on one side of 0; a number that is not enclosed is both ends itself."""
    if not isinstance(number, Enclosure):
        return number, number
    ends = number.between(bits)
    return ends if ends and ends[0] * ends[1] > 0 else None
