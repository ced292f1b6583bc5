"""Exact arithmetic on decimal numerals."""

from decimal import Decimal
from fractions import Fraction


def exact(number: float) -> Fraction:
    """The shortest decimal numeral of a double, exactly: 0.1 is one tenth."""
    return Fraction(Decimal(repr(number)))
