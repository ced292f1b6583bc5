"""Numbers worked out of columns, as good as exact: cut where that decides, worked out in full where it does not.

The sum of 100,000 different reciprocals is a fraction of millions of digits, which takes a minute to square. So of many
distinct positive quotients each is cut after 6500 bits, and a formula of their sums errs by less than 2^-5000: quotients lie
between 2^-110 and 2^110, so a mean errs by 2^-6500, a variance by 2^-6200, and divided by a squared mean, or divided into a
squared margin, by less than 2^-5400.

What is asked of the number is on which side of a short fraction it lies: of a limit, of its square, of a tie of rounding, of
the middle between two doubles. Limits and their squares have denominators below 2^400. If no fraction as short as that lies
within 2^-900, the number is that far from every limit, so the middle between two doubles of its distance, or of its root's,
squared too, has a denominator below 2^2400; and if no fraction as short as that lies within 2^-5000, the number cut
and the number itself lie on one side of all of them. Otherwise, as where a mean is exactly on its limit, all is worked out.
"""

from collections.abc import Callable
from fractions import Fraction

from service.engine.columns.protocol import Column

SHORT = ((1 << 400, Fraction(1, 1 << 900)), (1 << 2400, Fraction(1, 1 << 5000)))
"""(greatest denominator, distance within which no fraction as short as that may lie)."""


def settled(formula: Callable[..., Fraction], *columns: Column) -> Fraction:
    """What a formula of means and variances makes of these columns; compared, rounded and reported it is the exact number."""
    number = formula(*columns)
    in_full = [column.in_full() for column in columns]
    if all(full is column for full, column in zip(in_full, columns, strict=True)) or not _is_near_a_short_one(number):
        return number
    return formula(*in_full)


def _is_near_a_short_one(number: Fraction) -> bool:
    """True where a cut of this number could lie on the other side of a fraction that it is compared with."""
    return any(abs(number - number.limit_denominator(greatest)) < distance for greatest, distance in SHORT)
