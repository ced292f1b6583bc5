"""A long column of whole multiples of one step, in numpy; imported at the first one.

The proof of `whole` holds value by value: `rint(x·10^k) / 10^k == x` and |m| < 10^15. All that is summed are integers:
where a sum of them could leave int64's 2^63, plain Python integers take over. So the order of adding
does not matter, and nothing is rounded.
"""

from collections.abc import Iterator, Sequence
from fractions import Fraction

import msgspec
import numpy as np
from numpy.typing import NDArray

from service.engine.numbers.columns.whole import LONGEST_TRIED, POWERS, SAFE, WholeColumn, whole_ones_inside
from service.engine.numbers.numerals import Way

Doubles = NDArray[np.float64]
Integers = NDArray[np.int64]
EXACT_IN_WORDS = 2**63
_as_message = msgspec.msgpack.Encoder().encode
_WRITTEN = np.dtype([("tag", "u1"), ("double", ">f8")])
_TAG = 0xCB
_HEADS = ((16, 1), (2**16, 3), (2**32, 5))
"""How long the head of a MessagePack array is that holds fewer values than so many."""
BLOCK = 8192
"""Values worked on at a time: 64 KiB, of which a few stay in a core's own cache, and no fresh memory is asked for."""
STRETCH = 512
"""Values of which the lowest one is looked at first where the lowest of all are looked for."""


def doubles_of(values: Sequence[float]) -> Doubles:
    """The doubles as an array, −0 as 0; written as MessagePack and read from it, which is five times as fast as by numpy alone.

    Proof that nothing else is read. MessagePack writes a double as the byte CB and its 8 bytes, big-endian, behind the array's
    head. If the message ends n·9 bytes behind the head and each ninth byte is CB, the first value is a double of 9 bytes, so is
    the one behind it, and so on to the end. Where some value is no double, a whole number for one, numpy takes them all.
    """
    message = _as_message(values)
    head = next(size for most, size in _HEADS if len(values) < most)
    if len(message) - head == len(values) * _WRITTEN.itemsize:
        written = np.frombuffer(message, dtype=_WRITTEN, offset=head)
        if (written["tag"] == _TAG).all():
            return written["double"] + 0.0
    return np.array(values, dtype=np.float64) + 0.0


def digest_parts(doubles: Doubles) -> Iterator[memoryview]:
    """The doubles as bytes, IEEE 754, big-endian, in blocks."""
    for start in range(0, len(doubles), BLOCK):
        yield doubles[start : start + BLOCK].astype(">f8").data


def scaled_long(doubles: Doubles) -> tuple[Integers, int] | None:
    """(m, k) with value i = m[i] / 10**k exactly; None where a numeral is longer than 15 digits."""
    first, low, high = float(doubles[0]), float(doubles.min()), float(doubles.max())
    for decimals in range(LONGEST_TRIED + 1):
        power = POWERS[decimals]
        if round(first * power) / power != first:
            continue
        # A greater value never comes to a smaller number, so the extremes tell of all numbers whether |m| < SAFE.
        if not (low * power > 0.5 - SAFE and high * power < SAFE - 0.5):
            return None
        if (numbers := _multiples(doubles, float(power))) is not None:
            return numbers, decimals
    return None


def _multiples(doubles: Doubles, power: float) -> Integers | None:
    """Each value times the power, where all of these are whole numbers; in blocks, which stay near the processor."""
    numbers = np.empty(len(doubles), dtype=np.int64)
    for start in range(0, len(doubles), BLOCK):
        block = doubles[start : start + BLOCK]
        whole = np.rint(block * power)
        if not np.array_equal(whole / power, block):
            return None
        numbers[start : start + BLOCK] = whole
    return numbers


class LongColumn:
    """Value i is numbers[i] × step, step > 0, |numbers[i]| < 10^15."""

    __slots__ = ("_high", "_low", "numbers", "step")

    def __init__(self, numbers: Integers, step: Fraction) -> None:
        """Hold them; at least one."""
        self.numbers, self.step = numbers, step
        self._low, self._high = int(numbers.min()), int(numbers.max())

    @property
    def count(self) -> int:
        """How many values."""
        return len(self.numbers)

    def mean(self) -> Fraction:
        """The sum of integers, divided once."""
        return Fraction(self._total() * self.step.numerator, self.count * self.step.denominator)

    def variance(self) -> Fraction:
        """(n·Σm² − (Σm)²) / n(n − 1), in steps from the lowest value, which keeps the integers small."""
        offsets = self.numbers - self._low
        total = self._total() - self.count * self._low
        squares = self.count * _sum_of_squares(offsets, self._high - self._low) - total**2
        return Fraction(squares * self.step.numerator**2, self.count * (self.count - 1) * self.step.denominator**2)

    def extremes(self) -> tuple[Fraction, Fraction]:
        """The lowest and the highest value."""
        return self._low * self.step, self._high * self.step

    def outside(self, lower: Fraction | None, upper: Fraction | None) -> Sequence[int]:
        """Which values are below `lower` or above `upper`: whole numbers against the whole ones just inside."""
        inside = whole_ones_inside(lower, upper, self.step)
        least, greatest = self._low if inside[0] is None else inside[0], self._high if inside[1] is None else inside[1]
        if self._low >= least and self._high <= greatest:
            return ()
        # Beyond all numbers every limit is alike; cut there, it fits a word.
        least, greatest = max(min(least, SAFE), -SAFE), max(min(greatest, SAFE), -SAFE)
        places: list[int] = np.flatnonzero((self.numbers < least) | (self.numbers > greatest)).tolist()
        return places

    def worst(self, lower: Fraction | None, upper: Fraction | None, rank: int) -> Fraction:
        """Only the rank + 1 lowest and highest can be it, so these alone are ordered, in plain Python."""
        most = rank + 1
        if 2 * most >= self.count:
            return self.in_plain_python().worst(lower, upper, rank)
        ends = [] if lower is None else self._lowest(most)
        ends += [] if upper is None else self._highest(most)
        return WholeColumn(ends, self.step).worst(lower, upper, rank)

    def rounded(self, step: Fraction, way: Way) -> WholeColumn:
        """Each value rounded to a multiple of `step`."""
        return self.in_plain_python().rounded(step, way)

    def means(self, groups: Sequence[int], group_count: int) -> WholeColumn:
        """The mean of each group."""
        return self.in_plain_python().means(groups, group_count)

    def picked(self, places: Sequence[int]) -> WholeColumn:
        """The values at these places."""
        return WholeColumn(self.numbers[np.asarray(places)].tolist(), self.step)

    def exact_values(self) -> list[Fraction]:
        """All values, one by one."""
        return self.in_plain_python().exact_values()

    def in_plain_python(self) -> WholeColumn:
        """The same column for what numpy has no exact way to do."""
        return WholeColumn(self.numbers.tolist(), self.step)

    def _lowest(self, most: int) -> list[int]:
        """The so many lowest numbers, in no order."""
        return [self._low] if most == 1 else _lowest_of(self.numbers, most)

    def _highest(self, most: int) -> list[int]:
        """The so many highest numbers, in no order."""
        return [self._high] if most == 1 else [-number for number in _lowest_of(-self.numbers, most)]

    def _total(self) -> int:
        """Σm: in words while no sum of so many can leave them."""
        greatest = max(abs(self._low), abs(self._high))
        if greatest * self.count < EXACT_IN_WORDS:
            return int(self.numbers.sum())
        return sum(self.numbers.tolist())


def _lowest_of(numbers: Integers, most: int) -> list[int]:
    """The so many lowest of the numbers, in no order.

    All of them stand in the so many stretches whose own lowest numbers are lowest, or behind the last stretch: what stands in
    another stretch is below none of those lowest numbers, of which there are enough.
    """
    stretches = len(numbers) // STRETCH
    if most * 4 < stretches:
        even = numbers[: stretches * STRETCH].reshape(stretches, STRETCH)
        among = np.argpartition(even.min(axis=1), most - 1)[:most]
        numbers = np.concatenate((even[among].ravel(), numbers[stretches * STRETCH :]))
    found: list[int] = np.partition(numbers, most - 1)[:most].tolist()
    return found


def _sum_of_squares(offsets: Integers, greatest: int) -> int:
    """Σm² of whole numbers from 0 to `greatest`.

    Never as doubles: numpy gives their dot product to a library with threads of its own, which wait for each other a hundred
    times as long as one core takes to multiply, where the other cores are at work.
    """
    if greatest**2 * len(offsets) < EXACT_IN_WORDS:
        return int(np.dot(offsets, offsets))
    return sum(offset * offset for offset in offsets.tolist())
