"""A column of quotients of whole numbers: inverted readings, readings divided by readings, and means of these.

Wherever possible one whole number a value is used, its key: floor(n·2^K / d). Two keys that differ are in the order of
their values. Two equal keys belong to equal values where 2^K ≥ D², D being the greatest denominator: different quotients
differ by at least 1/D², so that n·2^K / d differs by at least 1, and so do the floors. Only where denominators are longer
than that are values with equal keys compared as fractions.
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
"""Up to this many values the exact sum is faster than an enclosure."""
KEY_BITS = WIDTHS[0]
LONGEST_KEY = WIDTHS[-1]


class QuotientColumn:
    """Exact values in one unit: value i is numerators[i] / denominators[i] × step; denominators > 0, step > 0."""

    def __init__(self, numerators: Sequence[int], denominators: Sequence[int], step: Fraction) -> None:
        """Take numerators and denominators, at least one of each, and the step."""
        self.numerators, self.denominators, self.step = numerators, denominators, step

    @property
    def count(self) -> int:
        """The number of values."""
        return len(self.denominators)

    def mean(self) -> Known:
        """The arithmetic mean; enclosed for many values."""
        return self._mean

    def variance(self) -> Known:
        """The sample variance, Σ(x − mean)² / (n − 1); enclosed for many values."""
        return self._variance

    def extremes(self) -> tuple[Fraction, Fraction]:
        """The lowest and the highest value."""
        return self._value(self._ends[0]), self._value(self._ends[1])

    def outside(self, lower: Fraction | None, upper: Fraction | None) -> Sequence[int]:
        """The indices of the values below `lower` or above `upper`."""
        low, high = self._ends
        is_below, is_above = self._is_beyond(lower, -1), self._is_beyond(upper, 1)
        if not is_below(low) and not is_above(high):
            return ()
        return [place for place in range(self.count) if is_below(place) or is_above(place)]

    def worst(self, lower: Fraction | None, upper: Fraction | None, rank: int) -> Fraction:
        """The value with the least distance inside the limits after leaving out the `rank` worst ones."""
        # In sorted order the worst value is at one of the two ends, x at the low or y at the high one: x where
        # x − lower ≤ upper − y, which is x + y ≤ lower + upper. It is dropped `rank` times.
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
        """The column of each value rounded to a multiple of `step`."""
        steps = self.step / step
        factor, divisor = steps.numerator, steps.denominator
        pairs = zip(self.numerators, self.denominators, strict=True)
        return WholeColumn([nearest_whole(one * factor, other * divisor, way) for one, other in pairs], step)

    def means(self, groups: Sequence[int], group_count: int) -> "QuotientColumn":
        """The column of the means of groups."""
        members: list[list[Pair]] = [[] for _ in range(group_count)]
        for group, one, other in zip(groups, self.numerators, self.denominators, strict=True):
            members[group].append((one, other))
        sums = [_total_of(pairs) for pairs in members]
        denominators = [total[1] * len(pairs) for total, pairs in zip(sums, members, strict=True)]
        return QuotientColumn([total[0] for total in sums], denominators, self.step)

    def picked(self, places: Sequence[int]) -> "QuotientColumn":
        """The column of the values at these indices."""
        numerators, denominators = self.numerators, self.denominators
        return QuotientColumn([numerators[place] for place in places], [denominators[place] for place in places], self.step)

    def exact_values(self) -> list[Fraction]:
        """All values as Fractions."""
        return [self._value(place) for place in range(self.count)]

    def in_plain_python(self) -> "QuotientColumn":
        """The column itself."""
        return self

    @cached_property
    def _mean(self) -> Known:
        if self._is_short or self._is_constant:
            return self._exact_mean()
        return Enclosure(self._mean_between, self._exact_mean)

    @cached_property
    def _variance(self) -> Known:
        if self._is_constant:
            return Fraction(0)
        return self._exact_variance() if self._is_short else Enclosure(self._variance_between, self._exact_variance)

    @cached_property
    def _is_short(self) -> bool:
        """True where the exact sum is short: few values, and none of them a long sum itself (as a mean of readings is)."""
        return self.count <= FEW and 2 * max(self.denominators).bit_length() <= LONGEST_KEY

    @cached_property
    def _is_constant(self) -> bool:
        """True where all values are equal."""
        low, high = self._ends
        return self.numerators[low] * self.denominators[high] == self.numerators[high] * self.denominators[low]

    def _mean_between(self, bits: int) -> tuple[Fraction, Fraction]:
        """The ends of the mean at this number of bits."""
        # Each value × 2^bits exceeds its floor by less than 1, so the sum of n exceeds that of their floors by less than n.
        low, whole = sum(self._floors(bits)) * self.step.numerator, self.count * self.step.denominator << bits
        return Fraction(low, whole), Fraction(low + self.count * self.step.numerator, whole)

    def _variance_between(self, bits: int) -> tuple[Fraction, Fraction]:
        """Ends of the variance: that of the floors f, and the most that the parts cut off can change it.

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
        """The exact mean."""
        return self._sum(1) / self.count * self.step

    def _exact_variance(self) -> Fraction:
        """The exact variance, (n·Σx² − (Σx)²) / n(n − 1)."""
        squares, total = self._sum(2), self._sum(1)
        return (self.count * squares - total**2) / (self.count * (self.count - 1)) * self.step**2

    def _sum(self, power: int) -> Fraction:
        """Σ (numerator / denominator)^power, each distinct value once times its count."""
        counts = Counter(zip(self.numerators, self.denominators, strict=True))
        return sum_of((one**power * times, other**power) for (one, other), times in counts.items())

    def _floors(self, bits: int) -> list[int]:
        """floor(n·2^bits / d) of each value."""
        if bits == self._key_bits:
            return self._keys
        return [(one << bits) // other for one, other in zip(self.numerators, self.denominators, strict=True)]

    @cached_property
    def _key_bits(self) -> int:
        """K of the keys: enough bits to distinguish all different values, unless these would be more than `LONGEST_KEY`."""
        needed = 2 * max(self.denominators).bit_length()
        return max(needed, KEY_BITS) if needed <= LONGEST_KEY else KEY_BITS

    @cached_property
    def _keys(self) -> list[int]:
        return [(one << self._key_bits) // other for one, other in zip(self.numerators, self.denominators, strict=True)]

    @cached_property
    def _ranks(self) -> Sequence[int]:
        """Whole numbers in the order of the values, equal for equal values: the keys, where these distinguish all values."""
        if self._key_bits >= 2 * max(self.denominators).bit_length():
            return self._keys
        ranks = [0] * self.count
        for before, place in pairwise(sorted(range(self.count), key=cmp_to_key(self._compared))):
            ranks[place] = ranks[before] + (self._compared(before, place) != 0)
        return ranks

    def _compared(self, one: int, other: int) -> int:
        """A number with the sign of the difference between the values at two indices."""
        if apart := self._keys[one] - self._keys[other]:
            return apart
        return self.numerators[one] * self.denominators[other] - self.numerators[other] * self.denominators[one]

    @cached_property
    def _ends(self) -> tuple[int, int]:
        """The indices of the lowest and of the highest value."""
        return self._ranks.index(min(self._ranks)), self._ranks.index(max(self._ranks))

    @cached_property
    def _order(self) -> Sequence[int]:
        """The indices in ascending order of their values."""
        return sorted(range(self.count), key=self._ranks.__getitem__)

    def _is_beyond(self, limit: Fraction | None, side: int) -> Callable[[int], bool]:
        """A function of an index: whether its value is below the limit (side −1) or above it (side 1); False for no limit."""
        if limit is None:
            return lambda _: False
        bare, keys = limit / self.step, self._keys
        numerator, denominator, edge = bare.numerator, bare.denominator, (bare.numerator << self._key_bits) // bare.denominator

        def is_beyond(place: int) -> bool:
            key = keys[place]
            # Floors keep the order, so only a value with the limit's own key has to be compared as a fraction.
            if key != edge:
                return (key > edge) == (side > 0)
            return side * (self.numerators[place] * denominator - numerator * self.denominators[place]) > 0

        return is_beyond

    def _is_sum_at_most(self, one: int, other: int, most: Fraction) -> bool:
        """Whether the sum of the values at two indices is at most `most`, in steps."""
        left, right = self.denominators[one], self.denominators[other]
        total = self.numerators[one] * right + self.numerators[other] * left
        return total * most.denominator <= most.numerator * left * right

    def _value(self, place: int) -> Fraction:
        return Fraction(self.numerators[place] * self.step.numerator, self.denominators[place] * self.step.denominator)


def sum_of(pairs: Iterable[Pair]) -> Fraction:
    """The exact sum of (numerator, denominator) pairs."""
    return Fraction(*_total_of(pairs))


def _total_of(pairs: Iterable[Pair]) -> Pair:
    """The exact sum as a pair that is not reduced."""
    # Summed as a binary tree, so that most additions are of short numbers; sorted, as equal denominators need no product.
    level = sorted(pairs, key=itemgetter(1))
    while len(level) > 1:
        odd = level[-1:] if len(level) % 2 else []
        level = [_added(one, other) for one, other in zip(level[::2], level[1::2], strict=False)] + odd
    return level[0]


def _added(one: Pair, other: Pair) -> Pair:
    """The sum of two pairs."""
    if one[1] == other[1]:
        return one[0] + other[0], one[1]
    return one[0] * other[1] + other[0] * one[1], one[1] * other[1]
