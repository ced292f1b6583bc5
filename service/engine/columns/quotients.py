"""A column of fractions: readings turned round, and quotients of readings. Equal values are kept once."""

from collections import Counter
from collections.abc import Iterable, Sequence
from fractions import Fraction

from service.engine.numerals import Ties, to_step

Pair = tuple[int, int]
"""Numerator and denominator, not reduced: reducing at every step would cost more than it saves."""


class QuotientColumn:
    """Value i is distinct[index[i]]."""

    __slots__ = ("counts", "distinct", "index")

    def __init__(self, distinct: Sequence[Fraction], index: Sequence[int]) -> None:
        """Hold them; at least one, each of the distinct ones in use."""
        self.distinct, self.index = distinct, index
        self.counts = Counter(index)

    @property
    def count(self) -> int:
        """How many values."""
        return len(self.index)

    def mean(self) -> Fraction:
        """The exact sum, divided once."""
        return self._sum(1) / self.count

    def variance(self) -> Fraction:
        """(n·Σx² − (Σx)²) / n(n − 1)."""
        return (self.count * self._sum(2) - self._sum(1) ** 2) / (self.count * (self.count - 1))

    def extremes(self) -> tuple[Fraction, Fraction]:
        """The lowest and the highest value."""
        return min(self.distinct), max(self.distinct)

    def outside(self, lower: Fraction | None, upper: Fraction | None) -> Sequence[int]:
        """Which values are below `lower` or above `upper`."""
        is_outside = [(lower is not None and value < lower) or (upper is not None and value > upper) for value in self.distinct]
        return [place for place, number in enumerate(self.index) if is_outside[number]]

    def worst(self, lower: Fraction | None, upper: Fraction | None, rank: int) -> Fraction:
        """Distinct values in the order of their margins, each as often as it stands."""
        ordered = sorted(
            (_margin(value, lower, upper), value, self.counts[number]) for number, value in enumerate(self.distinct)
        )
        for _, value, times in ordered:
            if rank < times:
                return value
            rank -= times
        raise IndexError(rank)

    def rounded(self, step: Fraction, ties: Ties) -> "QuotientColumn":
        """Each value rounded to a multiple of `step`."""
        return QuotientColumn([to_step(value, step, ties) for value in self.distinct], self.index)

    def means(self, groups: Sequence[int], group_count: int) -> "QuotientColumn":
        """The mean of each group."""
        members: list[list[int]] = [[] for _ in range(group_count)]
        for group, number in zip(groups, self.index, strict=True):
            members[group].append(number)
        means = [QuotientColumn(self.distinct, numbers).mean() for numbers in members]
        return QuotientColumn(means, range(group_count))

    def exact_values(self) -> list[Fraction]:
        """All values, one by one."""
        return [self.distinct[number] for number in self.index]

    def in_plain_python(self) -> None:
        """Not of whole multiples of one step."""

    def _sum(self, power: int) -> Fraction:
        """Σ x^power."""
        used = ((self.distinct[number], count) for number, count in self.counts.items())
        return sum_of((value.numerator**power * count, value.denominator**power) for value, count in used)


def sum_of(pairs: Iterable[Pair]) -> Fraction:
    """The exact sum of fractions by a tree, whose numbers stay short until its root; equal denominators first."""
    level = sorted(pairs, key=lambda pair: pair[1])
    while len(level) > 1:
        odd = level[-1:] if len(level) % 2 else []
        level = [_added(one, other) for one, other in zip(level[::2], level[1::2], strict=False)] + odd
    return Fraction(*level[0])


def _added(one: Pair, other: Pair) -> Pair:
    """The sum of two."""
    if one[1] == other[1]:
        return one[0] + other[0], one[1]
    return one[0] * other[1] + other[0] * one[1], one[1] * other[1]


def _margin(value: Fraction, lower: Fraction | None, upper: Fraction | None) -> Fraction:
    """Distance from the nearest of the limits that are given, negative outside; one of them is given."""
    if upper is None:
        return value - (lower or 0)
    return upper - value if lower is None else min(value - lower, upper - value)
