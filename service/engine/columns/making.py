"""How a column comes to be: of a series' doubles, of several columns, of one column divided by another."""

from collections.abc import Hashable, Sequence
from fractions import Fraction
from functools import reduce
from math import gcd, lcm
from typing import TYPE_CHECKING, TypeVar

from service.engine.columns.protocol import Column
from service.engine.columns.quotients import QuotientColumn
from service.engine.columns.whole import WholeColumn, scaled

if TYPE_CHECKING:
    from service.engine.columns.long import Doubles

Value = TypeVar("Value", bound=Hashable)
LONG = 64
"""From so many values numpy pays."""


def column_of(values: list[float], doubles: "Doubles | None", factor: Fraction, *, turned_round: bool) -> Column:
    """The column of a series.

    values        at least one, in the series' unit
    doubles       the same as an array, where they are many
    factor        what a value is multiplied by, or divided into where `turned_round`
    turned_round  the unit is of the reciprocal quantity; no value is 0 then
    """
    if turned_round:
        numbers, decimals = scaled(values)
        return _turned_round(numbers, factor * 10**decimals)
    if doubles is not None:
        from service.engine.columns.long import LongColumn, scaled_long  # noqa: PLC0415  numpy only where it pays

        if found := scaled_long(doubles):
            return LongColumn(found[0], factor / 10 ** found[1])
    numbers, decimals = scaled(values)
    return WholeColumn(numbers, factor / 10**decimals)


def _turned_round(numbers: Sequence[int], dividend: Fraction) -> QuotientColumn:
    """The dividend divided by each number, one by one.

    Never averaged before: 1/120 and 1/140 kg/m average to 130 m/kg, but the reciprocal of their average is 129.2.
    """
    distinct, index = _numbered(numbers)
    return QuotientColumn([dividend / number for number in distinct], index)


def joined(columns: Sequence[Column]) -> Column:
    """One column of several, in their order; at least one."""
    if len(columns) == 1:
        return columns[0]
    whole = [plain for column in columns if (plain := column.in_plain_python()) is not None]
    if len(whole) < len(columns):
        values = [value for column in columns for value in column.exact_values()]
        distinct, index = _numbered(values)
        return QuotientColumn(distinct, index)
    step = reduce(_common_step, (column.step for column in whole))
    factors = [(column.step / step).numerator for column in whole]
    numbers = [number * factor for column, factor in zip(whole, factors, strict=True) for number in column.numbers]
    return WholeColumn(numbers, step)


def quotient_of(numerators: Column, denominators: Column, partners: Sequence[int], factor: Fraction) -> Column:
    """Numerator i divided by denominator partners[i], none of which is 0, times the factor."""
    divisors = denominators.exact_values()
    pairs = [(value, divisors[partner]) for value, partner in zip(numerators.exact_values(), partners, strict=True)]
    distinct, index = _numbered(pairs)
    return QuotientColumn([numerator / denominator * factor for numerator, denominator in distinct], index)


def _common_step(one: Fraction, other: Fraction) -> Fraction:
    """The greatest step of which both are whole multiples."""
    return Fraction(gcd(one.numerator, other.numerator), lcm(one.denominator, other.denominator))


def _numbered(values: Sequence[Value]) -> tuple[list[Value], list[int]]:
    """The distinct values in the order in which they come, and for each value the number of its distinct one."""
    numbers: dict[Value, int] = {}
    index = [numbers.setdefault(value, len(numbers)) for value in values]
    return list(numbers), index
