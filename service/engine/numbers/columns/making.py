"""Functions that make columns: from the doubles of a series, by joining columns, and by arithmetic on one or two columns."""

from collections.abc import Sequence
from fractions import Fraction
from functools import cache, reduce
from math import gcd, lcm
from typing import TYPE_CHECKING

from service.engine.numbers.columns.protocol import Column
from service.engine.numbers.columns.quotients import QuotientColumn
from service.engine.numbers.columns.whole import WholeColumn, scaled

if TYPE_CHECKING:
    from service.engine.numbers.columns.long import Doubles

LONG = 64
"""From this many values on numpy is faster than plain Python."""


def column_of(values: list[float], doubles: "Doubles | None", factor: Fraction, *, turned_round: bool) -> Column:
    """The column of a series in the grade's unit.

    values        at least one, in the series' unit
    doubles       the same values as an array, where there are at least `LONG`
    factor        value × factor is in the grade's unit; factor / value where `turned_round`
    turned_round  True where the series' unit is of the reciprocal quantity; all values are then above 0
    """
    if doubles is not None:
        from service.engine.numbers.columns.long import LongColumn, scaled_long  # numpy is loaded at the first long column

        if found := scaled_long(doubles):
            if turned_round:
                return _turned_round(found[0].tolist(), factor * 10 ** found[1])
            return LongColumn(found[0], _step(factor, found[1]))
    numbers, decimals = scaled(values)
    if turned_round:
        return _turned_round(numbers, factor * 10**decimals)
    return WholeColumn(numbers, _step(factor, decimals))


def _step(factor: Fraction, decimals: int) -> Fraction:
    """The value of one unit in the last decimal, in the grade's unit."""
    # The cache is keyed by integers, as hashing a Fraction takes longer than the rest of the function.
    return _step_of(factor.numerator, factor.denominator, decimals)


@cache
def _step_of(numerator: int, denominator: int, decimals: int) -> Fraction:
    """1 / 10^decimals × numerator / denominator."""
    # The cache needs no bound: factors come from the table of units, and numbers in range have few decimals.
    return Fraction(numerator, denominator * 10**decimals)


def _turned_round(numbers: Sequence[int], dividend: Fraction) -> QuotientColumn:
    """The dividend divided by each number."""
    # Inverted one by one, never their mean: 1/120 and 1/140 kg/m average to 130 m/kg; the reciprocal of their mean is 129.2.
    return QuotientColumn([1] * len(numbers), numbers, dividend)


def joined(columns: Sequence[Column]) -> Column:
    """The values of all columns in one, in their order; at least one column."""
    if len(columns) == 1:
        return columns[0]
    plain = [column.in_plain_python() for column in columns]
    step = reduce(_common_step, (column.step for column in plain))
    whole = [column for column in plain if isinstance(column, WholeColumn)]
    if len(whole) == len(plain):
        return WholeColumn([number for column in whole for number in _in_steps(column.numbers, column.step, step)], step)
    quotients = [_as_quotients(column) for column in plain]
    numerators = [number for column in quotients for number in _in_steps(column.numerators, column.step, step)]
    return QuotientColumn(numerators, [number for column in quotients for number in column.denominators], step)


def quotient_of(numerators: Column, denominators: Column, partners: Sequence[int], factor: Fraction) -> Column:
    """The column of numerator i / denominator partners[i] × factor; no denominator is 0."""
    above, below = _as_quotients(numerators.in_plain_python()), _as_quotients(denominators.picked(partners).in_plain_python())
    ones = [one * other for one, other in zip(above.numerators, below.denominators, strict=True)]
    others = [one * other for one, other in zip(above.denominators, below.numerators, strict=True)]
    # QuotientColumn requires positive denominators.
    if min(others) < 0:
        ones = [one if other > 0 else -one for one, other in zip(ones, others, strict=True)]
        others = [abs(other) for other in others]
    return QuotientColumn(ones, others, above.step / below.step * factor)


def product_of(ones: Column, others: Column, partners: Sequence[int], factor: Fraction) -> Column:
    """The column of ones i × others partners[i] × factor, factor > 0."""
    one, other = ones.in_plain_python(), others.picked(partners).in_plain_python()
    step = one.step * other.step * factor
    if isinstance(one, WholeColumn) and isinstance(other, WholeColumn):
        return WholeColumn([number * times for number, times in zip(one.numbers, other.numbers, strict=True)], step)
    left, right = _as_quotients(one), _as_quotients(other)
    numerators = [number * times for number, times in zip(left.numerators, right.numerators, strict=True)]
    denominators = [number * times for number, times in zip(left.denominators, right.denominators, strict=True)]
    return QuotientColumn(numerators, denominators, step)


def times(column: Column, factor: Fraction) -> Column:
    """The column of each value × factor."""
    plain = column.in_plain_python()
    # A step is always above 0, so the factor's sign goes into the numbers, and a factor of 0 makes all of them 0.
    if factor == 0:
        return WholeColumn([0] * plain.count, Fraction(1))
    sign, step = (1 if factor > 0 else -1), plain.step * abs(factor)
    if isinstance(plain, WholeColumn):
        return WholeColumn([sign * number for number in plain.numbers], step)
    return QuotientColumn([sign * number for number in plain.numerators], plain.denominators, step)


def less(column: Column, amount: Fraction) -> Column:
    """The column of each value − amount, an amount of any sign."""
    sign = (amount > 0) - (amount < 0)
    return difference_of(column, WholeColumn([sign], abs(amount) or Fraction(1)), [0] * column.count)


def difference_of(ones: Column, others: Column, partners: Sequence[int]) -> Column:
    """The column of ones i − others partners[i]."""
    one, other = ones.in_plain_python(), others.picked(partners).in_plain_python()
    step = _common_step(one.step, other.step)
    if isinstance(one, WholeColumn) and isinstance(other, WholeColumn):
        pairs = zip(_in_steps(one.numbers, one.step, step), _in_steps(other.numbers, other.step, step), strict=True)
        return WholeColumn([minuend - subtrahend for minuend, subtrahend in pairs], step)
    left, right = _as_quotients(one), _as_quotients(other)
    minuends, subtrahends = _in_steps(left.numerators, left.step, step), _in_steps(right.numerators, right.step, step)
    numerators = [
        minuend * below - subtrahend * under
        for minuend, under, subtrahend, below in zip(minuends, left.denominators, subtrahends, right.denominators, strict=True)
    ]
    return QuotientColumn(
        numerators, [one * other for one, other in zip(left.denominators, right.denominators, strict=True)], step
    )


def _as_quotients(column: WholeColumn | QuotientColumn) -> QuotientColumn:
    """The column as quotients; whole numbers get the denominator 1."""
    if isinstance(column, QuotientColumn):
        return column
    return QuotientColumn(column.numbers, [1] * column.count, column.step)


def _in_steps(numbers: Sequence[int], step: Fraction, common: Fraction) -> Sequence[int]:
    """Multiples of `step` as multiples of the smaller step `common`, of which it is a whole multiple."""
    factor = (step / common).numerator
    return [number * factor for number in numbers]


def _common_step(one: Fraction, other: Fraction) -> Fraction:
    """The greatest number of which both steps are whole multiples."""
    return Fraction(gcd(one.numerator, other.numerator), lcm(one.denominator, other.denominator))
