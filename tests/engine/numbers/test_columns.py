"""Columns of readings: the short way and the long way give the same exact numbers, and both the right ones."""

import struct
from collections.abc import Callable, Sequence
from fractions import Fraction

import pytest

from service.engine.numbers import LONG, Column, WholeColumn, column_of, joined, quotient_of
from service.engine.numbers.columns.long import BLOCK, STRETCH, LongColumn, doubles_of, scaled_long
from service.engine.numbers.columns.quotients import QuotientColumn, sum_of
from service.engine.numbers.columns.whole import scaled

ONE = Fraction(1)
Make = Callable[[list[float]], Column]
LENGTHS = (2, 63, 64, 65, 1000, 100_000)


def short(values: Sequence[float], factor: Fraction = ONE) -> Column:
    """The column without numpy."""
    return column_of(list(values), None, factor, turned_round=False)


def long(values: Sequence[float], factor: Fraction = ONE) -> Column:
    """The same through numpy."""
    return column_of(list(values), doubles_of(values), factor, turned_round=False)


def turned(values: Sequence[float], factor: Fraction = ONE) -> Column:
    """The factor divided by each."""
    return column_of(list(values), None, factor, turned_round=True)


def tenths(count: int) -> list[float]:
    """0.0, 0.1, …, 9.9 and again, `count` of them."""
    return [(number * 37 % 100) / 10 for number in range(count)]


def test_numpy_takes_over_at_64_values() -> None:
    """Below, plain Python is faster; nothing else differs."""
    assert 64 == LONG


@pytest.mark.parametrize("count", LENGTHS)
def test_short_and_long_columns_agree(count: int) -> None:
    """A lot of 63 readings and one of 65 are judged by the same numbers."""
    values, factor = tenths(count), Fraction(9806650, 10**6)
    one, other = short(values, factor), long(values, factor)

    assert (WholeColumn, LongColumn) == (type(one), type(other))
    assert one.mean() == other.mean()
    assert one.variance() == other.variance()
    assert one.extremes() == other.extremes()
    limits = (Fraction(20), Fraction(90))
    assert list(one.outside(*limits)) == list(other.outside(*limits))
    for rank in {0, 1, count // 2, count - 1}:
        assert one.worst(*limits, rank) == other.worst(*limits, rank)
        assert one.worst(None, limits[1], rank) == other.worst(None, limits[1], rank)
        assert one.worst(limits[0], None, rank) == other.worst(limits[0], None, rank)


@pytest.mark.parametrize("make", [short, long])
def test_a_column_knows_its_mean_and_variance(make: Make) -> None:
    """0.0 to 9.9 in steps of 0.1: mean 4.95; Σ(i − 49.5)² = 100·(100² − 1)/12 = 83325 steps², by 99 and 100 steps a unit²."""
    column = make(tenths(100))

    assert (100, Fraction("4.95")) == (column.count, column.mean())
    assert Fraction(83325, 99 * 100) == column.variance()
    assert (Fraction(0), Fraction("9.9")) == column.extremes()


def test_sums_beyond_doubles_and_words_are_exact() -> None:
    """100,000 values near 10^15: their sum is beyond 2^63, of their squares far beyond. One in each ten differs by 1."""
    values = [999_999_999_999_990.0 + number % 10 for number in range(100_000)]
    column = long(values)

    assert isinstance(column, LongColumn)
    # Mean: base + 4.5. Variance: 10 000 times Σ(d − 4.5)² = 82.5, by 99 999.
    assert 999_999_999_999_990 + Fraction(9, 2) == column.mean()
    assert Fraction(825_000, 99_999) == column.variance()


def test_squares_beyond_doubles_are_summed_in_words() -> None:
    """100 values 0 and 10^8: Σm² = 50·10^16 > 2^53 = 9.007·10^15. Variance: 100·(5·10^7)² / 99."""
    assert Fraction(100 * 25 * 10**14, 99) == long([0.0, 1e8] * 50).variance()


def test_squares_beyond_words_are_summed_in_python() -> None:
    """100 values 0 and 10^12: Σm² = 50·10^24, beyond 2^63."""
    assert Fraction(100 * 25 * 10**22, 99) == long([0.0, 1e12] * 50).variance()


@pytest.mark.parametrize(
    ("values", "numbers", "decimals"),
    [
        ([1400.0], [1400], 0),
        ([0.1, 12.25], [10, 1225], 2),
        ([-0.0, 1.0], [0, 1], 0),
        ([1e-9, 1e12], [1, 10**21], 9),
        ([0.30000000000000004], [30000000000000004], 17),
        ([123456789012345.0], [123456789012345], 0),
        ([0.1234567890123456, 1.0], [1234567890123456, 10**16], 16),
    ],
)
def test_readings_become_whole_numbers_of_one_step(values: list[float], numbers: list[int], decimals: int) -> None:
    """What was written is what is counted, with 17 digits too."""
    assert (numbers, decimals) == scaled(values)


def test_long_numerals_leave_numpy() -> None:
    """A double holds 15 digits for sure; with 17 the numeral itself is read, and nothing is lost."""
    values = [0.30000000000000004] * 64

    assert scaled_long(doubles_of(values)) is None
    assert Fraction("0.30000000000000004") == long(values).mean()


def test_numpy_scales_as_plain_python_does() -> None:
    """The same step and the same whole numbers."""
    values = [*tenths(63), 0.125]
    found = scaled_long(doubles_of(values))

    assert found is not None
    assert scaled(values) == (found[0].tolist(), found[1])


@pytest.mark.parametrize("count", [1, 15, 16, 64, 2**16 - 1, 2**16, 2**16 + 1])
def test_an_array_holds_the_very_doubles(count: int) -> None:
    """Bit by bit those that were sent, however many; −0 alone becomes 0."""
    kinds = (1400.5, -0.0, 5e-324, 1.7976931348623157e308, 0.1, -2.5, 0.30000000000000004)
    values = [kinds[number % len(kinds)] for number in range(count)]

    assert struct.pack(f"={count}d", *[value + 0.0 for value in values]) == doubles_of(values).tobytes()


@pytest.mark.parametrize("place", [0, 7, 99])
@pytest.mark.parametrize("whole", [0, 1400, 203, 0xCBCBCBCB, 2**63])
def test_whole_numbers_among_doubles_are_doubles_too(place: int, whole: int) -> None:
    """Evidence made in Python may hold an int, some of which are written in 9 bytes as a double is."""
    values: list[float] = [0.5] * 100
    values[place] = whole

    assert [float(value) for value in values] == doubles_of(values).tolist()


BLOCKS = 3 * BLOCK + 5
"""So many values are looked at in four goes, the last of them short."""
EVERYWHERE = (0, BLOCK - 1, BLOCK, 2 * BLOCK + 7, BLOCKS - 1)
"""The first and the last place, and some on both sides of where a block ends."""


@pytest.mark.parametrize("place", EVERYWHERE)
@pytest.mark.parametrize("odd", [0.30000000000000004, 3333333333.3333335])
def test_one_long_numeral_anywhere_leaves_numpy(place: int, odd: float) -> None:
    """One reading of 17 digits among thousands is read as it was written, wherever it stands."""
    values = tenths(BLOCKS)
    values[place] = odd

    assert scaled_long(doubles_of(values)) is None
    assert Fraction(repr(odd)) == long(values).exact_values()[place]


@pytest.mark.parametrize("place", EVERYWHERE)
def test_one_finer_value_anywhere_makes_the_step_finer(place: int) -> None:
    """Tenths and one quarter are hundredths, wherever it stands."""
    values = tenths(BLOCKS)
    values[place] = 0.25
    found = scaled_long(doubles_of(values))

    assert found is not None
    assert (25, 2) == (int(found[0][place]), found[1])
    assert scaled(values) == (found[0].tolist(), 2)


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("place", EVERYWHERE)
def test_one_number_of_16_digits_anywhere_leaves_numpy(place: int, sign: int) -> None:
    """10^15 has 16 digits, of which not all are sure; one less has 15."""
    values = [float(number % 7) for number in range(BLOCKS)]
    values[place] = sign * 1e15

    assert scaled_long(doubles_of(values)) is None
    values[place] = sign * (1e15 - 1)
    found = scaled_long(doubles_of(values))
    assert found is not None
    assert (sign * (10**15 - 1), 0) == (int(found[0][place]), found[1])


@pytest.mark.parametrize("count", [8 * STRETCH, 40 * STRETCH, 40 * STRETCH + 3])
def test_the_worst_are_found_wherever_they_stand(count: int) -> None:
    """Low ones side by side, apart, and at the very end: rank by rank the same as by sorting all."""
    values = [100.0 + number * 37 % 101 for number in range(count)]
    for low, place in enumerate((count - 1, STRETCH, STRETCH + 1, STRETCH + 2, 5 * STRETCH - 1)):
        values[place], values[place - 2 * STRETCH + 20] = float(low // 2), 900.0 - low // 2
    column = long(values)

    for rank in range(8):
        assert sorted(values)[rank] == column.worst(Fraction(0), None, rank)
        assert sorted(values)[-1 - rank] == column.worst(None, Fraction(1000), rank)


@pytest.mark.parametrize("make", [short, long, turned])
def test_limits_are_inclusive_in_every_column(make: Make) -> None:
    """On the limit is not outside: 0.5, 1, 2 turned round are 2, 1, 0.5."""
    column = make([0.5, 1.0, 2.0] * 30)

    assert [] == list(column.outside(Fraction(1, 2), Fraction(2)))
    assert 30 == len(column.outside(Fraction(501, 1000), None))
    assert 30 == len(column.outside(None, Fraction(1999, 1000)))
    assert 90 == len(column.outside(Fraction(10**20), None))
    assert 90 == len(column.outside(None, Fraction(-(10**20))))


@pytest.mark.parametrize("make", [short, long])
def test_the_worst_value_is_the_one_nearest_to_failing(make: Make) -> None:
    """Between 2 and 9 the worst is 0.0, 2 outside, then 0.1 and so on; of 1.1 and 9.9, both 0.9 outside, the lower."""
    column = make(tenths(100))
    limits = Fraction(2), Fraction(9)

    assert [Fraction(rank, 10) for rank in range(12)] == [column.worst(*limits, rank) for rank in range(12)]
    assert Fraction("9.9") == column.worst(*limits, 12)
    assert Fraction("1.2") == column.worst(*limits, 13)


def test_the_worst_of_equal_values_counts_each() -> None:
    """Two readings of 5 are two that may be outside."""
    for column in (short([5, 5, 6]), turned([1, 1, 2], Fraction(6))):
        lowest = column.extremes()[0]
        assert lowest == column.worst(Fraction(1), None, 0)
    assert Fraction(5) == short([5, 5, 6]).worst(Fraction(1), None, 1)
    assert Fraction(6) == short([5, 5, 6]).worst(Fraction(1), None, 2)
    assert Fraction(6) == turned([1, 1, 2], Fraction(6)).worst(None, Fraction(1), 1)
    assert Fraction(3) == turned([1, 1, 2], Fraction(6)).worst(None, Fraction(1), 2)


@pytest.mark.parametrize("make", [short, long])
def test_means_of_packages_are_exact(make: Make) -> None:
    """b0 has 1, 2 and 4, b1 has 0.5: 7/3 and 1/2."""
    column = make([1.0, 0.5, 2.0, 4.0])

    assert [Fraction(7, 3), Fraction(1, 2)] == list(column.means([0, 1, 0, 0], 2).exact_values())


@pytest.mark.parametrize("make", [short, long])
def test_every_value_is_rounded_by_itself(make: Make) -> None:
    """0.25 and 0.35 in steps of 0.1: 0.2 and 0.4, to even."""
    column = make([0.25, 0.35, 1.0])

    assert [Fraction("0.2"), Fraction("0.4"), 1] == list(column.rounded(Fraction(1, 10), "even").exact_values())


def test_readings_turned_round_are_exact_one_by_one() -> None:
    """1/3, 1/6 and 1/6: mean 2/9; variance ((1/9)² + 2·(1/18)²) / 2 = 1/108."""
    column = turned([3, 6, 6])

    assert isinstance(column, QuotientColumn)
    assert (Fraction(2, 9), Fraction(1, 108)) == (column.mean(), column.variance())
    assert (Fraction(1, 6), Fraction(1, 3)) == column.extremes()
    assert [Fraction(1, 3), Fraction(1, 6)] == list(column.means([0, 1, 1], 2).exact_values())
    assert [Fraction(3, 10), Fraction(2, 10), Fraction(2, 10)] == list(column.rounded(Fraction(1, 10), "even").exact_values())


def test_columns_in_different_steps_are_joined_in_their_order() -> None:
    """Thirds and tenths have a common step of 1/30; a column turned round makes fractions of all."""
    thirds, tenth = short([1, 2], Fraction(1, 3)), long([0.1] * 64)
    both = joined([thirds, tenth])
    mixed = joined([thirds, turned([7])])

    assert [Fraction(1, 3), Fraction(2, 3), *[Fraction(1, 10)] * 64] == list(both.exact_values())
    assert [Fraction(1, 3), Fraction(2, 3), Fraction(1, 7)] == list(mixed.exact_values())
    assert thirds is joined([thirds])


def test_a_quotient_divides_each_by_its_partner() -> None:
    """600 and 500 by 1000 and 1250, the second first: 48 and 50 %."""
    column = quotient_of(short([600, 500]), short([1000, 1250]), [1, 0], Fraction(100))

    assert [48, 50] == list(column.exact_values())


def test_a_sum_of_many_fractions_is_exact() -> None:
    """1/(1·2) + 1/(2·3) + … + 1/(999·1000) = 1 − 1/1000."""
    assert Fraction(999, 1000) == sum_of((1, number * (number + 1)) for number in range(1, 1000))


@pytest.mark.parametrize("make", [short, long])
def test_the_order_of_readings_changes_no_number(make: Make) -> None:
    """Adding integers is the same either way round."""
    values = [1e9, 1e-6, 3.3, 1e9, 0.1] * 20
    one, other = make(values), make(values[::-1])

    assert (one.mean(), one.variance()) == (other.mean(), other.variance())
