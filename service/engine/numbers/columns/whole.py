"""A column of whole multiples of one step, in plain Python: fastest to about 60 values, and right for any.

Proof that the integers are the readings. A reading is a double v; its numeral is the shortest decimal that rounds to it.
Let m = round(v·10^k) with |m| < 10^15 and k ≤ 22. Then m and 10^k are doubles without error, so `m / 10**k` is the double
nearest to the decimal m·10^-k. If that is v, then m·10^-k is a decimal of at most 15 digits that rounds to v. Two such
decimals never round to one double (a double has 53 bits, and 10^15 < 2^53 / 8), so it is the only one, and the shortest
numeral, having no more digits, is it. If v has such a decimal, the whole number nearest to the product is m: the product
errs by less than |m|·2^-52 < 1/4, and that and 1/2 by no more than 1/16 further. Where the test fails, the numeral
itself is read.
"""

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from math import floor, lcm
from operator import mul

from service.engine.numbers.numerals import Way, nearest_whole, ratio

POWERS = tuple(10**k for k in range(23))
SAFE = 10**15
LONGEST_TRIED = 12
"""Decimals tried by multiplication; numerals with more are rare, and are read."""


def scaled(values: list[float]) -> tuple[list[int], int]:
    """(m, k) with value i = m[i] / 10**k exactly, for at least one value."""
    first = values[0]
    for decimals, power in enumerate(POWERS[: LONGEST_TRIED + 1]):
        if round(first * power) / power == first:
            double = float(power)
            numbers = [floor(value * double + 0.5) for value in values]
            if [number / power for number in numbers] == values and max(numbers) < SAFE and min(numbers) > -SAFE:
                return numbers, decimals
    return _read(values)


def _read(values: Sequence[float]) -> tuple[list[int], int]:
    """The same from the numerals, of any length."""
    numerals = [Decimal(repr(value)) for value in values]
    decimals = max(0, *(-int(numeral.as_tuple().exponent) for numeral in numerals), 0)
    return [int(numeral.scaleb(decimals)) for numeral in numerals], decimals


class WholeColumn:
    """Value i is numbers[i] × step, step > 0."""

    __slots__ = ("_extremes", "_over", "_times", "count", "numbers", "step")

    def __init__(self, numbers: list[int], step: Fraction) -> None:
        """Hold them; at least one."""
        self.numbers, self.step, self.count = numbers, step, len(numbers)
        self._times, self._over = step.as_integer_ratio()
        self._extremes: tuple[int, int] | None = None

    def mean(self) -> Fraction:
        """The sum of integers, divided once."""
        return ratio(sum(self.numbers) * self._times, self.count * self._over)

    def variance(self) -> Fraction:
        """(n·Σm² − (Σm)²) / n(n − 1), in steps from the first value, which keep the integers small."""
        origin, count = self.numbers[0], self.count
        offsets = [number - origin for number in self.numbers]
        squares = count * sum(map(mul, offsets, offsets)) - sum(offsets) ** 2
        return ratio(squares * self._times**2, count * (count - 1) * self._over**2)

    def extremes(self) -> tuple[Fraction, Fraction]:
        """The lowest and the highest value."""
        low, high = self.ends
        return self._value(low), self._value(high)

    def outside(self, lower: Fraction | None, upper: Fraction | None) -> Sequence[int]:
        """Places of the values below `lower` or above `upper`: whole numbers against the whole ones just inside."""
        low, high = self.ends
        least, greatest = whole_ones_inside(lower, upper, self.step)
        if (least is None or low >= least) and (greatest is None or high <= greatest):
            return ()
        least, greatest = low if least is None else least, high if greatest is None else greatest
        return [place for place, number in enumerate(self.numbers) if number < least or number > greatest]

    def worst(self, lower: Fraction | None, upper: Fraction | None, rank: int) -> Fraction:
        """By the extremes where the worst is asked for, else by order."""
        candidates: Sequence[int] = self.ends if rank == 0 else self.numbers
        if upper is None:
            return self._value(sorted(candidates)[rank])
        if lower is None:
            return self._value(sorted(candidates, reverse=True)[rank])
        candidates = _ends_of(candidates, rank + 1)
        low, high = lower / self.step, upper / self.step
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
        """The mean of each group, all over the common denominator of the groups' sizes."""
        sums, sizes = [0] * group_count, [0] * group_count
        for group, number in zip(groups, self.numbers, strict=True):
            sums[group] += number
            sizes[group] += 1
        common = lcm(*set(sizes))
        return WholeColumn([total * (common // size) for total, size in zip(sums, sizes, strict=True)], self.step / common)

    def picked(self, places: Sequence[int]) -> "WholeColumn":
        """The values at these places."""
        return WholeColumn([self.numbers[place] for place in places], self.step)

    def places_of(self, value: Fraction) -> Sequence[int]:
        """Where this value stands."""
        wanted = value / self.step
        return (
            [place for place, number in enumerate(self.numbers) if number == wanted.numerator]
            if wanted.denominator == 1
            else ()
        )

    def exact_values(self) -> list[Fraction]:
        """All values, one by one."""
        return [number * self.step for number in self.numbers]

    def in_plain_python(self) -> "WholeColumn":
        """Itself."""
        return self

    def _value(self, number: int) -> Fraction:
        """So many steps."""
        return ratio(number * self._times, self._over)

    @property
    def ends(self) -> tuple[int, int]:
        """The lowest and the highest number, found once."""
        if self._extremes is None:
            self._extremes = min(self.numbers), max(self.numbers)
        return self._extremes


def _ends_of(numbers: Sequence[int], most: int) -> Sequence[int]:
    """So many of the lowest and of the highest, all where these overlap: none but they can be the worst ones."""
    if 2 * most >= len(numbers):
        return numbers
    ordered = sorted(numbers)
    return ordered[:most] + ordered[-most:]


def whole_ones_inside(lower: Fraction | None, upper: Fraction | None, step: Fraction) -> tuple[int | None, int | None]:
    """The least and the greatest whole number whose multiple of the step is within the limits; None for an open side."""
    numerator, denominator = step.as_integer_ratio()
    least = greatest = None
    if lower is not None:
        of, by = lower.as_integer_ratio()
        least = -(-of * denominator // (by * numerator))
    if upper is not None:
        of, by = upper.as_integer_ratio()
        greatest = of * denominator // (by * numerator)
    return least, greatest
