"""The chi-square distribution: its quantiles and its cumulative probability."""

from fractions import Fraction
from math import exp, lgamma, log, sqrt

# Bisection of doubles ends after some 60 steps; both bounds only exclude an endless loop.
STEPS = 200
EPSILON = 1e-15
MOST_TERMS = 100_000
MANY = 10_000
"""From this number of degrees of freedom on, the cube root is taken as normal: seven digits are correct then."""


def chi_square_at(share: Fraction, freedom: int) -> float:
    """The quantile of chi-square: 3.247 for a share of 0.025 and 10 degrees of freedom; at least seven digits are correct.

    share    probability below the quantile, 0 < share < 1
    freedom  degrees of freedom, at least 1

    Source for many degrees of freedom: Wilson and Hilferty (1931), from memory; a test compares it with another implementation.
    """
    if freedom >= MANY:
        from service.engine.risks.normal import deviations_at  # distributions are loaded at first use

        return freedom * (1 - 2 / (9 * freedom) + deviations_at(share) * sqrt(2 / (9 * freedom))) ** 3
    low, high = 0.0, float(freedom)
    # An enclosing interval first, then bisection until two neighbouring doubles enclose the quantile.
    while share_below(high, freedom) < share:
        low, high = high, 2 * high
    for _ in range(STEPS):
        middle = (low + high) / 2
        if middle in (low, high):
            break
        low, high = (middle, high) if share_below(middle, freedom) < share else (low, middle)
    return high


def share_below(value: float, freedom: int) -> float:
    """The cumulative probability at a value: the regularised incomplete gamma function P(ν/2, x/2).

    By its series below the mean, by Lentz's continued fraction above it. Source: Abramowitz and Stegun, 6.5.29 and 6.5.31 (from
    memory; a test compares it with another implementation).
    """
    shape, at = freedom / 2, value / 2
    if at <= 0:
        return 0.0
    # In logarithms, since x^a and Γ(a) overflow from some 340 degrees of freedom on.
    scale = exp(shape * log(at) - at - lgamma(shape))
    return scale * _series(shape, at) if at < shape + 1 else 1 - scale * _fraction(shape, at)


def _series(shape: float, at: float) -> float:
    """Σ x^k / (a (a+1) … (a+k)). Terms decrease by the factor x/(a+k), which is below 1 for x < a + 1."""
    term = total = 1 / shape
    k = 1
    while term > total * EPSILON:
        term *= at / (shape + k)
        total += term
        k += 1
    return total


def _fraction(shape: float, at: float) -> float:
    """1/(x+1−a − 1(1−a)/(x+3−a − 2(2−a)/(x+5−a − …))), until a step changes nothing."""
    # Lentz's method replaces a denominator of 0 by a tiny one.
    tiny = 1e-300
    b = at + 1 - shape
    c, d = 1 / tiny, 1 / b
    total, k, step = d, 1, 2.0
    while abs(step - 1) > EPSILON and k < MOST_TERMS:
        factor = k * (shape - k)
        b += 2
        d = 1 / (factor * d + b or tiny)
        c = b + factor / c or tiny
        step = c * d
        total *= step
        k += 1
    return total
