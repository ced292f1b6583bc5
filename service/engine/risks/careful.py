"""The normal law and noncentral t to 40 digits, for the few numerals that a float leaves in doubt.

The same averages as in `noncentral_t`, in decimal arithmetic of 60 digits: slower by a thousand times, and asked only where a
float is nearer to the edge than its own error.
"""

from collections.abc import Iterator
from decimal import Decimal, localcontext
from fractions import Fraction
from itertools import count, takewhile

from service.engine.risks.noncentral_t import step_between
from service.engine.risks.normal import deviations_at

PRECISION = 60
DIGITS = 98.0
"""exp(-98) is 3e-43."""
PI = Decimal("3.14159265358979323846264338327950288419716939937510582097494459")
BEYOND = 16
"""So many standard deviations leave 1e-57 outside."""
HALF = Decimal("0.5")


def decimal_of(number: Fraction) -> Decimal:
    """The number to as many digits as are kept here."""
    with localcontext(prec=PRECISION):
        return Decimal(number.numerator) / number.denominator


def share_below(deviations: Decimal) -> Decimal:
    """Φ within 1e-55 where 60 digits are kept around it: one half and φ(x)·(x + x³/3 + x⁵/15 + …), all terms of one sign."""
    if abs(deviations) > BEYOND:
        return Decimal(int(deviations > 0))
    term = total = deviations
    for each in count(3, 2):
        term = term * deviations * deviations / each
        if total + term == total:
            break
        total += term
    return HALF + total * _density(deviations)


def deviations_exactly_at(share: Fraction) -> Decimal:
    """So many standard deviations at that share below, within 1e-45: Newton's steps from the float double the digits."""
    with localcontext(prec=PRECISION):
        deviations = Decimal(deviations_at(share))
        for _ in range(4):
            deviations -= (share_below(deviations) - decimal_of(share)) / _density(deviations)
        return deviations


def noncentral_t_at_most(bound: Decimal, degrees: int, noncentrality: Decimal) -> Decimal:
    """P(T′ ≤ bound) within 1e-40, by the rule and the bounds of `noncentral_t`."""
    with localcontext(prec=PRECISION):
        step = Decimal(step_between(degrees, float(noncentrality), DIGITS))
        nodes = [*_side(step, 0, degrees), *_side(-step, 1, degrees)]
        below = sum((weight * share_below(bound * root - noncentrality) for root, weight in nodes), Decimal(0))
        return below / sum((weight for _, weight in nodes), Decimal(0))


def _side(step: Decimal, first: int, degrees: int) -> Iterator[tuple[Decimal, Decimal]]:
    """The nodes on one side of w = 1, each with its weight."""
    logs = (each * step for each in count(first))
    row = ((y.exp(), (degrees * (y - ((2 * y).exp() - 1) / 2)).exp()) for y in logs)
    return takewhile(lambda node: node[1] > Decimal(-DIGITS).exp(), row)


def _density(deviations: Decimal) -> Decimal:
    return (-deviations * deviations / 2).exp() / (2 * PI).sqrt()
