"""The chi-square law: below which value so large a share of it lies."""

from fractions import Fraction
from math import exp, lgamma, log, sqrt

STEPS = 200
EPSILON = 1e-15
MOST_TERMS = 100_000
MANY = 10_000
"""From so many degrees of freedom on, the cube root of it is as good as normal: then a figure is right to seven digits."""


def chi_square_at(share: Fraction, freedom: int) -> float:
    """The value that this share is below: 3.247 for 0.025 and 10 degrees of freedom; at least seven digits are right.

    share    0 < share < 1
    freedom  at least 1

    Source for many degrees of freedom: Wilson and Hilferty (1931), from memory; a test holds it to another implementation.
    """
    if freedom >= MANY:
        from service.engine.risks.normal import deviations_at  # laws of chance load where they are asked for

        return freedom * (1 - 2 / (9 * freedom) + deviations_at(share) * sqrt(2 / (9 * freedom))) ** 3
    low, high = 0.0, float(freedom)
    while share_below(high, freedom) < share:
        low, high = high, 2 * high
    for _ in range(STEPS):
        middle = (low + high) / 2
        if middle in (low, high):
            break
        low, high = (middle, high) if share_below(middle, freedom) < share else (low, middle)
    return high


def share_below(value: float, freedom: int) -> float:
    """The share below this value: the regularised incomplete gamma function P(ν/2, x/2).

    By its series below the mean, by Lentz's continued fraction above it. Source: Abramowitz and Stegun, 6.5.29 and 6.5.31 (from
    memory; held to another implementation by a test).
    """
    shape, at = freedom / 2, value / 2
    if at <= 0:
        return 0.0
    scale = exp(shape * log(at) - at - lgamma(shape))
    return scale * _series(shape, at) if at < shape + 1 else 1 - scale * _fraction(shape, at)


def _series(shape: float, at: float) -> float:
    """Σ x^k / (a (a+1) … (a+k)); each term is smaller than the last by x/(a+k) < 1."""
    term = total = 1 / shape
    k = 1
    while term > total * EPSILON:
        term *= at / (shape + k)
        total += term
        k += 1
    return total


def _fraction(shape: float, at: float) -> float:
    """1/(x+1−a − 1(1−a)/(x+3−a − 2(2−a)/(x+5−a − …))), until a step changes nothing."""
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
