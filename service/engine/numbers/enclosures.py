"""Numbers that are known between two ends: exact, but worked out to the last digit only where something hangs on it.

The exact sum of a thousand reciprocals has a numerator of thousands of digits. What is asked of it (is it below the limit,
to which double or step does it round, which figures does a sentence show) hardly ever needs them: where both ends of an
enclosure give the same answer, every number between them does.
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
WIDTHS = (128, 256, 512)
"""Bits after the point, tried in this order. A statistic that none of them settles nearly always lies exactly on an edge."""


class Enclosure(Generic[Held_co]):
    """A number between two ends that close in on it, and at a price the number itself."""

    __slots__ = ("between", "exactly")

    def __init__(self, ends: Callable[[int], tuple[Held_co, Held_co] | None], exactly: Callable[[], Held_co]) -> None:
        """Hold the two functions; each is called once for the same arguments.

        ends     two numbers, in either order, that the number lies between or on, worked out with so many bits after the
                 point; None where so few bits tell nothing
        exactly  the number
        """
        self.between, self.exactly = cache(ends), cache(exactly)


Known = Fraction | Enclosure[Fraction]
KnownExact = Exact | Enclosure[Exact]


def answered(number: Number | Enclosure[Number], question: Callable[[Number], Answer]) -> Answer:
    """The answer to a question about the number: that of both ends where they agree, else that of the number itself.

    question  such that the same answer at two numbers is the answer at all between them: a comparison, a rounding, and
              all that is made of these alone
    """
    if not isinstance(number, Enclosure):
        return question(number)
    for bits in WIDTHS:
        ends = number.between(bits)
        if ends and (answer := question(ends[0])) == question(ends[1]):
            return answer
    return question(number.exactly())


def combined(function: Callable[..., Fraction], *numbers: Known) -> Known:
    """The function of these numbers.

    function  rises or falls all the way in each argument, as long as none of them changes its sign; so its least and its
              greatest value over a box of enclosures that keep clear of 0 stand at corners of the box
    """
    if not any(isinstance(number, Enclosure) for number in numbers):
        return function(*numbers)

    def ends(bits: int) -> tuple[Fraction, Fraction] | None:
        sides = [_ends_clear_of_zero(number, bits) for number in numbers]
        if not all(sides):
            return None
        corners = [function(*corner) for corner in product(*(side for side in sides if side))]
        return min(corners), max(corners)

    return Enclosure(ends, lambda: function(*(exactly(number) for number in numbers)))


def exactly(number: Known) -> Fraction:
    """The number itself, at its price."""
    return number.exactly() if isinstance(number, Enclosure) else number


def middle(number: Known) -> Fraction:
    """The number itself, or the middle of its narrowest enclosure, whose width is some 2⁻⁵⁰⁰ at most.

    For figures from many numbers, whose exact sum nobody could wait for; what hangs on an edge is asked by `answered`.
    """
    ends = number.between(WIDTHS[-1]) if isinstance(number, Enclosure) else None
    return (ends[0] + ends[1]) / 2 if ends else exactly(number)


def rooted(square: Known, sign: int = 1) -> KnownExact:
    """Sign × √square for a square ≥ 0; the root of an end is an end of the root."""
    if not isinstance(square, Enclosure):
        return root_of(square, sign)

    def ends(bits: int) -> tuple[Exact, Exact] | None:
        found = square.between(bits)
        return (root_of(found[0], sign), root_of(found[1], sign)) if found else None

    return Enclosure(ends, lambda: root_of(square.exactly(), sign))


def _ends_clear_of_zero(number: Known, bits: int) -> tuple[Fraction, Fraction] | None:
    """Its ends, where both lie on one side of 0; a number that is not enclosed is its own end."""
    if not isinstance(number, Enclosure):
        return number, number
    ends = number.between(bits)
    return ends if ends and ends[0] * ends[1] > 0 else None
