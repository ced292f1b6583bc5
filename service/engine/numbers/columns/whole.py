"""A column of whole multiples of one step, in plain Python: the fastest up to about 60 values, and correct for any number.

Proof that the integers are the readings. A reading is a double v; its numeral is the shortest decimal that rounds to it.
Let m = round(v·10^k) with |m| < 10^15 and k ≤ 22. Then m and 10^k are doubles without error, so `m / 10**k` is the double
nearest to the decimal m·10^-k. If that is v, then m·10^-k is a decimal of at most 15 digits that rounds to v. Two such
decimals never round to one double (a double has 53 bits, and 10^15 < 2^53 / 8), so it is the only one, and the shortest
numeral, having no more digits, is it. If v has such a decimal, the whole number nearest to the product is m: the product
errs by less than |m|·2^-52 < 1/4, and the sum of that and 1/2 by no more than 1/16 further. Where the test fails, the
numeral itself is read.
"""

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from math import floor, lcm
from operator import mul

from service.engine.numbers.numerals import Way, nearest_whole, ratio

# 10^22 is the greatest power of ten that is a double without error.
POWERS = tuple(10**k for k in range(23))
SAFE = 10**15
LONGEST_TRIED = 12
"""The most decimals that are tried by multiplication; rare longer numerals are read as text."""


def scaled(values: list[float]) -> tuple[list[int], int]:
    """(m, k) with value i = m[i] / 10**k exactly; at least one value."""
    # The first value alone finds the likely number of decimals, as the readings of a series mostly have the same.
    first = values[0]
    for decimals, power in enumerate(POWERS[: LONGEST_TRIED + 1]):
        if round(first * power) / power == first:
            double = float(power)
            numbers = [floor(value * double + 0.5) for value in values]
            if [number / power for number in numbers] == values and max(numbers) < SAFE and min(numbers) > -SAFE:
                return numbers, decimals
    return _scaled_by_numerals(values)


def _scaled_by_numerals(values: Sequence[float]) -> tuple[list[int], int]:
    """(m, k) as `scaled` gives them, read from the shortest numerals, which may be of any length."""
    numerals = [Decimal(repr(value)) for value in values]
    decimals = max(0, *(-int(numeral.as_tuple().exponent) for numeral in numerals), 0)
    return [int(numeral.scaleb(decimals)) for numeral in numerals], decimals


class WholeColumn:
    """Exact values in one unit: value i is numbers[i] × step, step > 0."""

    __slots__ = ("_extremes", "_over", "_times", "count", "numbers", "step")

    def __init__(self, numbers: list[int], step: Fraction) -> None:
        """Take the numbers, at least one, and the step."""
        self.numbers, self.step, self.count = numbers, step, len(numbers)
        self._times, self._over = step.as_integer_ratio()
        self._extremes: tuple[int, int] | None = None

    def mean(self) -> Fraction:
        """The arithmetic mean."""
        return ratio(sum(self.numbers) * self._times, self.count * self._over)

    def variance(self) -> Fraction:
        """The sample variance, (n·Σm² − (Σm)²) / n(n − 1) × step²."""
        # The variance is the same from any origin; from the first value the integers are small.
        origin, count = self.numbers[0], self.count
        offsets = [number - origin for number in self.numbers]
        squares = count * sum(map(mul, offsets, offsets)) - sum(offsets) ** 2
        return ratio(squares * self._times**2, count * (count - 1) * self._over**2)

    def extremes(self) -> tuple[Fraction, Fraction]:
        """The lowest and the highest value."""
        low, high = self.ends
        return self._value(low), self._value(high)

    def outside(self, lower: Fraction | None, upper: Fraction | None) -> Sequence[int]:
        """The indices of the values below `lower` or above `upper`; the extremes answer first, as mostly none is."""
        low, high = self.ends
        least, greatest = integers_within(lower, upper, self.step)
        if (least is None or low >= least) and (greatest is None or high <= greatest):
            return ()
        least, greatest = low if least is None else least, high if greatest is None else greatest
        return [place for place, number in enumerate(self.numbers) if number < least or number > greatest]

    def worst(self, lower: Fraction | None, upper: Fraction | None, rank: int) -> Fraction:
        """The value with the least distance inside the limits after leaving out the `rank` worst ones."""
        candidates: Sequence[int] = self.ends if rank == 0 else self.numbers
        if upper is None:
            return self._value(sorted(candidates)[rank])
        if lower is None:
            return self._value(sorted(candidates, reverse=True)[rank])
        candidates = _lowest_and_highest(candidates, rank + 1)
        low, high = lower / self.step, upper / self.step
        # Over the common denominator all distances are integers.
        common = lcm(low.denominator, high.denominator)
        least, greatest = int(low * common), int(high * common)
        found = sorted((min(number * common - least, greatest - number * common), number) for number in candidates)
        return found[rank][1] * self.step

    def rounded(self, step: Fraction, way: Way) -> "WholeColumn":
        """Each value rounded to a multiple of `step`."""
        steps = self.step / step
        numerator, denominator = steps.numerator, steps.denominator
        return WholeColumn([nearest_whole(number * numerator, denominator, way) for number in self.numbers], step)

    def means(self, groups: Sequence[int], group_count: int) -> "WholeColumn":
        """The column of the means of groups, in steps of this one's divided by the least common multiple of the sizes."""
        sums, sizes = [0] * group_count, [0] * group_count
        for group, number in zip(groups, self.numbers, strict=True):
            sums[group] += number
            sizes[group] += 1
        common = lcm(*set(sizes))
        return WholeColumn([total * (common // size) for total, size in zip(sums, sizes, strict=True)], self.step / common)

    def picked(self, places: Sequence[int]) -> "WholeColumn":
        """The column of the values at these indices."""
        return WholeColumn([self.numbers[place] for place in places], self.step)

    def places_of(self, value: Fraction) -> Sequence[int]:
        """The indices of the values equal to this one."""
        wanted = value / self.step
        return (
            [place for place, number in enumerate(self.numbers) if number == wanted.numerator]
            if wanted.denominator == 1
            else ()
        )

    def exact_values(self) -> list[Fraction]:
        """All values as Fractions."""
        return [number * self.step for number in self.numbers]

    def in_plain_python(self) -> "WholeColumn":
        """The column itself."""
        return self

    def _value(self, number: int) -> Fraction:
        """The value of a number of steps."""
        return ratio(number * self._times, self._over)

    @property
    def ends(self) -> tuple[int, int]:
        """The lowest and the highest number, cached."""
        if self._extremes is None:
            self._extremes = min(self.numbers), max(self.numbers)
        return self._extremes


def _lowest_and_highest(numbers: Sequence[int], most: int) -> Sequence[int]:
    """The `most` lowest and `most` highest numbers, all where these overlap; the worst values are among them."""
    if 2 * most >= len(numbers):
        return numbers
    ordered = sorted(numbers)
    return ordered[:most] + ordered[-most:]


def integers_within(lower: Fraction | None, upper: Fraction | None, step: Fraction) -> tuple[int | None, int | None]:
    """The least and the greatest whole number whose multiple of `step` is within the limits; None for an open side."""
    # Floor division of integers, so that a value on a limit is inside by equality and not by rounding.
    numerator, denominator = step.as_integer_ratio()
    least = greatest = None
    if lower is not None:
        of, by = lower.as_integer_ratio()
        least = -(-of * denominator // (by * numerator))
    if upper is not None:
        of, by = upper.as_integer_ratio()
        greatest = of * denominator // (by * numerator)
    return least, greatest
