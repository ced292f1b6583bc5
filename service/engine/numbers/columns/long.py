"""A long column of whole multiples of one step, in numpy; imported when the first long column is made.

The proof of `whole` holds value by value: `rint(x·10^k) / 10^k == x` and |m| < 10^15. All sums are of integers; where one
could leave int64's 2^63, Python's integers take over. So the order of summation does not matter, and nothing is rounded.
"""

from collections.abc import Iterator, Sequence
from fractions import Fraction

import msgspec
import numpy as np
from numpy.typing import NDArray

from service.engine.numbers.columns.whole import LONGEST_TRIED, POWERS, SAFE, WholeColumn, integers_within
from service.engine.numbers.numerals import Way

Doubles = NDArray[np.float64]
Integers = NDArray[np.int64]
INT64_END = 2**63
_as_message = msgspec.msgpack.Encoder().encode
_TAGGED_DOUBLE = np.dtype([("tag", "u1"), ("double", ">f8")])
_TAG = 0xCB
_HEAD_LENGTHS = ((16, 1), (2**16, 3), (2**32, 5))
"""(number of values, bytes of the head of a MessagePack array with fewer values than that)"""
# Smaller and larger blocks were measured to be slower: a few of 64 KiB fit a core's own cache, and no new memory is needed.
BLOCK = 8192
"""Values that are processed at a time, 64 KiB."""
STRETCH = 512
"""Values in a stretch, of which first only the lowest is compared when the lowest of all are wanted."""


def doubles_of(values: Sequence[float]) -> Doubles:
    """The values as an array of doubles, −0 as 0.

    Encoding as MessagePack and reading that is five times as fast as numpy's own conversion, which inspects each value.
    Proof that the result is the same: MessagePack writes a double as the byte CB and its 8 bytes, big-endian, after the
    array's head. If the message ends n·9 bytes after the head and each ninth byte is CB, the first value is a double of 9
    bytes, so is the one after it, and so on to the end. If some value is no double, an int for example, numpy converts all.
    """
    # np.fromiter, array.array and struct were measured as well, and are slower.
    message = _as_message(values)
    head = next(size for most, size in _HEAD_LENGTHS if len(values) < most)
    if len(message) - head == len(values) * _TAGGED_DOUBLE.itemsize:
        tagged = np.frombuffer(message, dtype=_TAGGED_DOUBLE, offset=head)
        if (tagged["tag"] == _TAG).all():
            # Adding 0.0 turns −0 into 0, as the canonical form of JSON does, and gives the machine's own byte order.
            return tagged["double"] + 0.0
    return np.array(values, dtype=np.float64) + 0.0


def digest_parts(doubles: Doubles) -> Iterator[memoryview]:
    """The doubles as bytes (IEEE 754, big-endian) in blocks, for a digest without a second copy of the column."""
    for start in range(0, len(doubles), BLOCK):
        yield doubles[start : start + BLOCK].astype(">f8").data


def scaled_long(doubles: Doubles) -> tuple[Integers, int] | None:
    """(m, k) with value i = m[i] / 10**k exactly; None where a numeral has more than 15 digits or 12 decimals."""
    first, low, high = float(doubles[0]), float(doubles.min()), float(doubles.max())
    for decimals in range(LONGEST_TRIED + 1):
        power = POWERS[decimals]
        if round(first * power) / power != first:
            continue
        # Multiplying and rounding keep the order, so the extremes prove |m| < SAFE for all numbers.
        if not (low * power > 0.5 - SAFE and high * power < SAFE - 0.5):
            return None
        if (numbers := _multiples(doubles, float(power))) is not None:
            return numbers, decimals
    return None


def _multiples(doubles: Doubles, power: float) -> Integers | None:
    """Each value × power as integers; None where one of these products is not a whole number."""
    numbers = np.empty(len(doubles), dtype=np.int64)
    for start in range(0, len(doubles), BLOCK):
        block = doubles[start : start + BLOCK]
        whole = np.rint(block * power)
        if not np.array_equal(whole / power, block):
            return None
        numbers[start : start + BLOCK] = whole
    return numbers


class LongColumn:
    """Exact values in one unit: value i is numbers[i] × step, step > 0, |numbers[i]| < 10^15."""

    __slots__ = ("_high", "_low", "numbers", "step")

    def __init__(self, numbers: Integers, step: Fraction) -> None:
        """Take the numbers, at least one, and the step."""
        self.numbers, self.step = numbers, step
        self._low, self._high = int(numbers.min()), int(numbers.max())

    @property
    def count(self) -> int:
        """The number of values."""
        return len(self.numbers)

    def mean(self) -> Fraction:
        """The arithmetic mean."""
        return Fraction(self._total() * self.step.numerator, self.count * self.step.denominator)

    def variance(self) -> Fraction:
        """The sample variance, (n·Σm² − (Σm)²) / n(n − 1) × step², with m counted from the lowest value."""
        offsets = self.numbers - self._low
        total = self._total() - self.count * self._low
        squares = self.count * _sum_of_squares(offsets, self._high - self._low) - total**2
        return Fraction(squares * self.step.numerator**2, self.count * (self.count - 1) * self.step.denominator**2)

    def extremes(self) -> tuple[Fraction, Fraction]:
        """The lowest and the highest value."""
        return self._low * self.step, self._high * self.step

    def outside(self, lower: Fraction | None, upper: Fraction | None) -> Sequence[int]:
        """The indices of the values below `lower` or above `upper`; the extremes answer first, as mostly none is."""
        inside = integers_within(lower, upper, self.step)
        least, greatest = self._low if inside[0] is None else inside[0], self._high if inside[1] is None else inside[1]
        if self._low >= least and self._high <= greatest:
            return ()
        # A limit beyond all numbers excludes the same ones wherever it is; cut at ±SAFE, it fits into int64.
        least, greatest = max(min(least, SAFE), -SAFE), max(min(greatest, SAFE), -SAFE)
        places: list[int] = np.flatnonzero((self.numbers < least) | (self.numbers > greatest)).tolist()
        return places

    def worst(self, lower: Fraction | None, upper: Fraction | None, rank: int) -> Fraction:
        """The value with the least distance inside the limits after leaving out the `rank` worst ones."""
        # It is one of the rank + 1 lowest or highest, so only these are sorted.
        most = rank + 1
        if 2 * most >= self.count:
            return self.in_plain_python().worst(lower, upper, rank)
        ends = [] if lower is None else self._lowest(most)
        ends += [] if upper is None else self._highest(most)
        return WholeColumn(ends, self.step).worst(lower, upper, rank)

    def rounded(self, step: Fraction, way: Way) -> WholeColumn:
        """The column of each value rounded to a multiple of `step`."""
        return self.in_plain_python().rounded(step, way)

    def means(self, groups: Sequence[int], group_count: int) -> WholeColumn:
        """The column of the means of groups."""
        return self.in_plain_python().means(groups, group_count)

    def picked(self, places: Sequence[int]) -> WholeColumn:
        """The column of the values at these indices."""
        return WholeColumn(self.numbers[np.asarray(places)].tolist(), self.step)

    def exact_values(self) -> list[Fraction]:
        """All values as Fractions."""
        return self.in_plain_python().exact_values()

    def in_plain_python(self) -> WholeColumn:
        """The same values as Python integers, for operations that int64 can't do exactly."""
        return WholeColumn(self.numbers.tolist(), self.step)

    def _lowest(self, most: int) -> list[int]:
        """The `most` lowest numbers, unsorted."""
        return [self._low] if most == 1 else _lowest_of(self.numbers, most)

    def _highest(self, most: int) -> list[int]:
        """The `most` highest numbers, unsorted."""
        return [self._high] if most == 1 else [-number for number in _lowest_of(-self.numbers, most)]

    def _total(self) -> int:
        """Σm, in int64 where no partial sum can overflow."""
        greatest = max(abs(self._low), abs(self._high))
        if greatest * self.count < INT64_END:
            return int(self.numbers.sum())
        return sum(self.numbers.tolist())


def _lowest_of(numbers: Integers, most: int) -> list[int]:
    """The `most` lowest of the numbers, unsorted.

    They are in the `most` stretches with the lowest minima, or after the last full stretch: a number in any other stretch is
    not below these minima, which are already `most` numbers.
    """
    stretches = len(numbers) // STRETCH
    if most * 4 < stretches:
        even = numbers[: stretches * STRETCH].reshape(stretches, STRETCH)
        among = np.argpartition(even.min(axis=1), most - 1)[:most]
        numbers = np.concatenate((even[among].ravel(), numbers[stretches * STRETCH :]))
    found: list[int] = np.partition(numbers, most - 1)[:most].tolist()
    return found


def _sum_of_squares(offsets: Integers, greatest: int) -> int:
    """Σm² of whole numbers from 0 to `greatest`."""
    # Never as doubles: numpy hands their dot product to a BLAS library, whose threads wait for each other a hundred times as
    # long as one core takes to multiply, where the other cores are at work.
    if greatest**2 * len(offsets) < INT64_END:
        return int(np.dot(offsets, offsets))
    return sum(offset * offset for offset in offsets.tolist())
