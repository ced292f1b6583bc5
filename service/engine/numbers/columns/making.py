"""How a column comes to be: of a series' doubles, of several columns, of one column and another."""

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
"""From so many values numpy pays."""


def column_of(values: list[float], doubles: "Doubles | None", factor: Fraction, *, turned_round: bool) -> Column:
    """The column of a series.

    values        at least one, in the series' unit
    doubles       the same as an array, where they are many
    factor        what a value is multiplied by, or divided into where `turned_round`
    turned_round  the unit is of the reciprocal quantity; all values are above 0 then
    """
    if doubles is not None:
        from service.engine.numbers.columns.long import LongColumn, scaled_long  # numpy only where it pays

        if found := scaled_long(doubles):
            if turned_round:
                return _turned_round(found[0].tolist(), factor * 10 ** found[1])
            return LongColumn(found[0], _step(factor, found[1]))
    numbers, decimals = scaled(values)
    if turned_round:
        return _turned_round(numbers, factor * 10**decimals)
    return WholeColumn(numbers, _step(factor, decimals))


def _step(factor: Fraction, decimals: int) -> Fraction:
    """What one unit in the last decimal comes to."""
    # By integers, as the hash of a Fraction takes longer than all the rest.
    return _step_of(factor.numerator, factor.denominator, decimals)


@cache
def _step_of(numerator: int, denominator: int, decimals: int) -> Fraction:
    """Of the few units and decimals that readings come in, so it is kept."""
    return Fraction(numerator, denominator * 10**decimals)


def _turned_round(numbers: Sequence[int], dividend: Fraction) -> QuotientColumn:
    """The dividend divided by each number, one by one.

    Never averaged before: 1/120 and 1/140 kg/m average to 130 m/kg, but the reciprocal of their average is 129.2.
    """
    return QuotientColumn([1] * len(numbers), numbers, dividend)


def joined(columns: Sequence[Column]) -> Column:
    """One column of several, in their order; at least one."""
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
    """Numerator i divided by denominator partners[i], none of which is 0, times the factor."""
    above, below = _as_quotients(numerators.in_plain_python()), _as_quotients(denominators.picked(partners).in_plain_python())
    ones = [one * other for one, other in zip(above.numerators, below.denominators, strict=True)]
    others = [one * other for one, other in zip(above.denominators, below.numerators, strict=True)]
    if min(others) < 0:
        ones = [one if other > 0 else -one for one, other in zip(ones, others, strict=True)]
        others = [abs(other) for other in others]
    return QuotientColumn(ones, others, above.step / below.step * factor)


def product_of(ones: Column, others: Column, partners: Sequence[int], factor: Fraction) -> Column:
    """Value i times value partners[i] of the other column, times the factor, which is above 0."""
    one, other = ones.in_plain_python(), others.picked(partners).in_plain_python()
    step = one.step * other.step * factor
    if isinstance(one, WholeColumn) and isinstance(other, WholeColumn):
        return WholeColumn([number * times for number, times in zip(one.numbers, other.numbers, strict=True)], step)
    left, right = _as_quotients(one), _as_quotients(other)
    numerators = [number * times for number, times in zip(left.numerators, right.numerators, strict=True)]
    denominators = [number * times for number, times in zip(left.denominators, right.denominators, strict=True)]
    return QuotientColumn(numerators, denominators, step)


def times(column: Column, factor: Fraction) -> Column:
    """Each value times the factor; all are 0 where that is 0."""
    plain = column.in_plain_python()
    if factor == 0:
        return WholeColumn([0] * plain.count, Fraction(1))
    sign, step = (1 if factor > 0 else -1), plain.step * abs(factor)
    if isinstance(plain, WholeColumn):
        return WholeColumn([sign * number for number in plain.numbers], step)
    return QuotientColumn([sign * number for number in plain.numerators], plain.denominators, step)


def less(column: Column, amount: Fraction) -> Column:
    """Each value less the same amount, which may be below 0."""
    sign = (amount > 0) - (amount < 0)
    return difference_of(column, WholeColumn([sign], abs(amount) or Fraction(1)), [0] * column.count)


def difference_of(ones: Column, others: Column, partners: Sequence[int]) -> Column:
    """Value i less value partners[i] of the other column."""
    one, other = ones.in_plain_python(), others.picked(partners).in_plain_python()
    step = _common_step(one.step, other.step)
    if isinstance(one, WholeColumn) and isinstance(other, WholeColumn):
        pairs = zip(_in_steps(one.numbers, one.step, step), _in_steps(other.numbers, other.step, step), strict=True)
        return WholeColumn([number - less for number, less in pairs], step)
    left, right = _as_quotients(one), _as_quotients(other)
    above, taken = _in_steps(left.numerators, left.step, step), _in_steps(right.numerators, right.step, step)
    numerators = [
        number * below - less * under
        for number, under, less, below in zip(above, left.denominators, taken, right.denominators, strict=True)
    ]
    return QuotientColumn(
        numerators, [one * other for one, other in zip(left.denominators, right.denominators, strict=True)], step
    )


def _as_quotients(column: WholeColumn | QuotientColumn) -> QuotientColumn:
    """Whole numbers are quotients by 1."""
    if isinstance(column, QuotientColumn):
        return column
    return QuotientColumn(column.numbers, [1] * column.count, column.step)


def _in_steps(numbers: Sequence[int], step: Fraction, common: Fraction) -> Sequence[int]:
    """Multiples of `step` as multiples of a step that divides it."""
    factor = (step / common).numerator
    return [number * factor for number in numbers]


def _common_step(one: Fraction, other: Fraction) -> Fraction:
    """The greatest step of which both are whole multiples."""
    return Fraction(gcd(one.numerator, other.numerator), lcm(one.denominator, other.denominator))
