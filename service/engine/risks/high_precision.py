"""The normal and the noncentral t distribution to 40 digits, for the few comparisons that a float can't decide.

The same method as in `noncentral_t`, in decimal arithmetic of 60 digits: a thousand times slower, and used only where a
float is nearer to the edge than its own error.
"""

from collections.abc import Iterator
from decimal import Decimal, localcontext
from fractions import Fraction
from itertools import count, takewhile

from service.engine.risks.noncentral_t import node_spacing
from service.engine.risks.normal import deviations_at

PRECISION = 60
CUT_OFF = 98.0
"""exp(-98) is 3e-43: the error of the quadrature, and the weight at which its nodes end."""
PI = Decimal("3.14159265358979323846264338327950288419716939937510582097494459")
BEYOND = 16
"""Standard deviations beyond which a share of 1e-57 is left."""
HALF = Decimal("0.5")


def decimal_of(number: Fraction) -> Decimal:
    """The number to 60 digits."""
    with localcontext(prec=PRECISION):
        return Decimal(number.numerator) / number.denominator


def decimal_normal_cdf(deviations: Decimal) -> Decimal:
    """Φ within 1e-55, in a decimal context of 60 digits."""
    if abs(deviations) > BEYOND:
        return Decimal(int(deviations > 0))
    # Φ(x) = 1/2 + φ(x)·(x + x³/3 + x⁵/15 + …). All terms have one sign, so none cancels another's digits.
    term = total = deviations
    for divisor in count(3, 2):
        term = term * deviations * deviations / divisor
        if total + term == total:
            break
        total += term
    return HALF + total * _density(deviations)


def decimal_normal_quantile(share: Fraction) -> Decimal:
    """The number of standard deviations from the mean with this share below, within 1e-45; 0 < share < 1."""
    with localcontext(prec=PRECISION):
        deviations = Decimal(deviations_at(share))
        # Each step of Newton's doubles the digits, of which the float has some 15.
        for _ in range(4):
            deviations -= (decimal_normal_cdf(deviations) - decimal_of(share)) / _density(deviations)
        return deviations


def decimal_noncentral_t_cdf(bound: Decimal, degrees: int, noncentrality: Decimal) -> Decimal:
    """P(T′ ≤ bound) within 1e-40, by the method and the error bounds of `noncentral_t`."""
    with localcontext(prec=PRECISION):
        step = Decimal(node_spacing(degrees, float(noncentrality), CUT_OFF))
        nodes = [*_side(step, 0, degrees), *_side(-step, 1, degrees)]
        below = sum((weight * decimal_normal_cdf(bound * root - noncentrality) for root, weight in nodes), Decimal(0))
        return below / sum((weight for _, weight in nodes), Decimal(0))


def _side(step: Decimal, first: int, degrees: int) -> Iterator[tuple[Decimal, Decimal]]:
    """The nodes (w, weight) on one side of w = 1, up to the first of negligible weight."""
    logs = (number * step for number in count(first))
    row = ((y.exp(), (degrees * (y - ((2 * y).exp() - 1) / 2)).exp()) for y in logs)
    return takewhile(lambda node: node[1] > Decimal(-CUT_OFF).exp(), row)


def _density(deviations: Decimal) -> Decimal:
    return (-deviations * deviations / 2).exp() / (2 * PI).sqrt()
