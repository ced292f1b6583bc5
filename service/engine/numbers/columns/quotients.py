"""A column of quotients of whole numbers: readings turned round, readings divided by readings, and means of such.

All that can be is done on one whole number a value, its key: floor(n·2^K / d). Two keys that differ are in the order of
their values. Two that are equal belong to equal values where 2^K ≥ D², D being the greatest denominator: quotients that
differ do so by 1/D² at least, so that n·2^K / d differs by 1 at least, and so do the floors. Only where denominators are
longer than that are values with equal keys compared themselves.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from fractions import Fraction
from functools import cached_property, cmp_to_key
from itertools import pairwise
from math import isqrt
from operator import itemgetter

from service.engine.numbers.columns.whole import WholeColumn
from service.engine.numbers.enclosures import WIDTHS, Enclosure, Known
from service.engine.numbers.numerals import Way, nearest_whole

Pair = tuple[int, int]
"""Numerator and denominator, not reduced: reducing at every step would cost more than it saves."""
FEW = 12
"""Up to so many values the exact sum is the faster one."""
KEY_BITS = WIDTHS[0]
LONGEST_KEY = WIDTHS[-1]


class QuotientColumn:
    """Value i is numerators[i] / denominators[i] × step; denominators > 0, step > 0."""

    def __init__(self, numerators: Sequence[int], denominators: Sequence[int], step: Fraction) -> None:
        """Hold them; at least one."""
        self.numerators, self.denominators, self.step = numerators, denominators, step

    @property
    def count(self) -> int:
        """How many values."""
        return len(self.denominators)

    def mean(self) -> Known:
        """The sum divided by n; enclosed where the values are many."""
        return self._mean

    def variance(self) -> Known:
        """The squared deviations from the mean, summed and divided by n − 1; enclosed where the values are many."""
        return self._variance

    def extremes(self) -> tuple[Fraction, Fraction]:
        """The lowest and the highest value."""
        return self._value(self._ends[0]), self._value(self._ends[1])

    def outside(self, lower: Fraction | None, upper: Fraction | None) -> Sequence[int]:
        """Which values are below `lower` or above `upper`: by keys, and by themselves where the limit has the same key."""
        low, high = self._ends
        is_below, is_above = self._is_beyond(lower, -1), self._is_beyond(upper, 1)
        if not is_below(low) and not is_above(high):
            return ()
        return [place for place in range(self.count) if is_below(place) or is_above(place)]

    def worst(self, lower: Fraction | None, upper: Fraction | None, rank: int) -> Fraction:
        """Of values in their order the worst stands at one of the two ends; it is taken off `rank` times.

        x is nearer to `lower`, y to `upper`, if x − lower ≤ upper − y.
        """
        ordered = self._order if rank else self._ends
        if upper is None:
            return self._value(ordered[rank])
        if lower is None:
            return self._value(ordered[-1 - rank])
        both = (lower + upper) / self.step
        first, last = 0, len(ordered) - 1
        while rank and first < last:
            is_low = self._is_sum_at_most(ordered[first], ordered[last], both)
            first, last, rank = first + is_low, last - (not is_low), rank - 1
        return self._value(ordered[first if self._is_sum_at_most(ordered[first], ordered[last], both) else last])

    def rounded(self, step: Fraction, way: Way) -> WholeColumn:
        """Each value rounded to a multiple of `step`."""
        steps = self.step / step
        factor, divisor = steps.numerator, steps.denominator
        pairs = zip(self.numerators, self.denominators, strict=True)
        return WholeColumn([nearest_whole(one * factor, other * divisor, way) for one, other in pairs], step)

    def means(self, groups: Sequence[int], group_count: int) -> "QuotientColumn":
        """The mean of each group."""
        members: list[list[Pair]] = [[] for _ in range(group_count)]
        for group, one, other in zip(groups, self.numerators, self.denominators, strict=True):
            members[group].append((one, other))
        sums = [_total_of(pairs) for pairs in members]
        denominators = [total[1] * len(pairs) for total, pairs in zip(sums, members, strict=True)]
        return QuotientColumn([total[0] for total in sums], denominators, self.step)

    def picked(self, places: Sequence[int]) -> "QuotientColumn":
        """The values at these places."""
        numerators, denominators = self.numerators, self.denominators
        return QuotientColumn([numerators[place] for place in places], [denominators[place] for place in places], self.step)

    def exact_values(self) -> list[Fraction]:
        """All values, one by one."""
        return [self._value(place) for place in range(self.count)]

    def in_plain_python(self) -> "QuotientColumn":
        """Itself."""
        return self

    @cached_property
    def _mean(self) -> Known:
        if self._is_short or self._is_level:
            return self._exact_mean()
        return Enclosure(self._mean_between, self._exact_mean)

    @cached_property
    def _variance(self) -> Known:
        if self._is_level:
            return Fraction(0)
        return self._exact_variance() if self._is_short else Enclosure(self._variance_between, self._exact_variance)

    @cached_property
    def _is_short(self) -> bool:
        """True where the exact sum is short: of few values, and none of them a long sum itself."""
        return self.count <= FEW and 2 * max(self.denominators).bit_length() <= LONGEST_KEY

    @cached_property
    def _is_level(self) -> bool:
        """True where all values are equal."""
        low, high = self._ends
        return self.numerators[low] * self.denominators[high] == self.numerators[high] * self.denominators[low]

    def _mean_between(self, bits: int) -> tuple[Fraction, Fraction]:
        """Each value × 2^bits is its floor and less than 1 more, so n of them are less than n more than their floors."""
        low, whole = sum(self._floors(bits)) * self.step.numerator, self.count * self.step.denominator << bits
        return Fraction(low, whole), Fraction(low + self.count * self.step.numerator, whole)

    def _variance_between(self, bits: int) -> tuple[Fraction, Fraction]:
        """Of the floors f, and by how much what was cut off can move it.

        Value i × 2^bits = f[i] + e[i] with 0 ≤ e[i] < 1. The root of the summed squared deviations is a norm: that of
        f + e differs from that of f by that of e at most, and Σ(e − mean of e)² ≤ n/4. With A = n·Σf² − (Σf)², which is n
        times the summed squared deviations of f, that of f + e lies between (√A − n/2)² and (√A + n/2)², and so between
        A − n·r and A + n·r + n² for r ≥ √A. In steps from the lowest floor, which keeps the integers small.
        """
        floors, count = self._floors(bits), self.count
        lowest = min(floors)
        offsets = [floor - lowest for floor in floors]
        squares = count * sum([offset * offset for offset in offsets]) - sum(offsets) ** 2
        apart = count * (isqrt(squares) + 1)
        factor, whole = self.step.numerator**2, self.step.denominator**2 * count * (count - 1) << 2 * bits
        return Fraction(max(0, squares - apart) * factor, whole), Fraction((squares + apart + count**2) * factor, whole)

    def _exact_mean(self) -> Fraction:
        """The exact sum, divided once."""
        return self._sum(1) / self.count * self.step

    def _exact_variance(self) -> Fraction:
        """(n·Σx² − (Σx)²) / n(n − 1)."""
        squares, total = self._sum(2), self._sum(1)
        return (self.count * squares - total**2) / (self.count * (self.count - 1)) * self.step**2

    def _sum(self, power: int) -> Fraction:
        """Σ (numerator / denominator)^power, equal ones at once."""
        counts = Counter(zip(self.numerators, self.denominators, strict=True))
        return sum_of((one**power * times, other**power) for (one, other), times in counts.items())

    def _floors(self, bits: int) -> list[int]:
        """floor(n·2^bits / d) of each value."""
        if bits == self._key_bits:
            return self._keys
        return [(one << bits) // other for one, other in zip(self.numerators, self.denominators, strict=True)]

    @cached_property
    def _key_bits(self) -> int:
        """K of the keys: enough to tell all values apart, unless that were too many."""
        needed = 2 * max(self.denominators).bit_length()
        return max(needed, KEY_BITS) if needed <= LONGEST_KEY else KEY_BITS

    @cached_property
    def _keys(self) -> list[int]:
        return [(one << self._key_bits) // other for one, other in zip(self.numerators, self.denominators, strict=True)]

    @cached_property
    def _ranks(self) -> Sequence[int]:
        """Whole numbers in the order of the values, equal for equal ones: the keys, where these tell all values apart."""
        if self._key_bits >= 2 * max(self.denominators).bit_length():
            return self._keys
        ranks = [0] * self.count
        for before, place in pairwise(sorted(range(self.count), key=cmp_to_key(self._compared))):
            ranks[place] = ranks[before] + (self._compared(before, place) != 0)
        return ranks

    def _compared(self, one: int, other: int) -> int:
        """Below, at or above 0 as the value at one place is below, equal to or above that at the other."""
        if apart := self._keys[one] - self._keys[other]:
            return apart
        return self.numerators[one] * self.denominators[other] - self.numerators[other] * self.denominators[one]

    @cached_property
    def _ends(self) -> tuple[int, int]:
        """The places of the lowest and of the highest value."""
        return self._ranks.index(min(self._ranks)), self._ranks.index(max(self._ranks))

    @cached_property
    def _order(self) -> Sequence[int]:
        """The places in the order of their values."""
        return sorted(range(self.count), key=self._ranks.__getitem__)

    def _is_beyond(self, limit: Fraction | None, side: int) -> Callable[[int], bool]:
        """Whether the value at a place is below the limit (side −1), or above it (side 1); no value is beyond no limit."""
        if limit is None:
            return lambda _: False
        bare, keys = limit / self.step, self._keys
        numerator, denominator, edge = bare.numerator, bare.denominator, (bare.numerator << self._key_bits) // bare.denominator

        def is_beyond(place: int) -> bool:
            key = keys[place]
            if key != edge:
                return (key > edge) == (side > 0)
            return side * (self.numerators[place] * denominator - numerator * self.denominators[place]) > 0

        return is_beyond

    def _is_sum_at_most(self, one: int, other: int, most: Fraction) -> bool:
        """Whether two values come to no more than this, in steps."""
        left, right = self.denominators[one], self.denominators[other]
        total = self.numerators[one] * right + self.numerators[other] * left
        return total * most.denominator <= most.numerator * left * right

    def _value(self, place: int) -> Fraction:
        return Fraction(self.numerators[place] * self.step.numerator, self.denominators[place] * self.step.denominator)


def sum_of(pairs: Iterable[Pair]) -> Fraction:
    """The exact sum of fractions."""
    return Fraction(*_total_of(pairs))


def _total_of(pairs: Iterable[Pair]) -> Pair:
    """The exact sum by a tree, whose numbers stay short until its root; equal denominators first."""
    level = sorted(pairs, key=itemgetter(1))
    while len(level) > 1:
        odd = level[-1:] if len(level) % 2 else []
        level = [_added(one, other) for one, other in zip(level[::2], level[1::2], strict=False)] + odd
    return level[0]


def _added(one: Pair, other: Pair) -> Pair:
    """The sum of two."""
    if one[1] == other[1]:
        return one[0] + other[0], one[1]
    return one[0] * other[1] + other[0] * one[1], one[1] * other[1]
