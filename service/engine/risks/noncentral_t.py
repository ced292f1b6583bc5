"""Noncentral t: how a mean less k standard deviations, both of one sample, lies to a limit.

T′ = (Z + δ)/W, where Z is a normal deviation and W² is a chi square by its degrees of freedom ν. Given W = w it is at most t
as often as Z is at most t·w − δ, so that its distribution is Φ(t·w − δ) averaged over w.
"""

from fractions import Fraction
from functools import cached_property
from itertools import count, takewhile
from math import cos, exp, expm1, fsum, log, pi, sin
from typing import NamedTuple

from service.engine.risks.normal import HALF, share_below

DIGITS = 43.0
"""exp(-43) is 2e-19: what the step between two nodes leaves out, and less than what a node has that ends a row."""
STRIPS = tuple(0.7 * 0.7**each for each in range(40))
"""Half-widths to choose from, all below π/4: see `step_between`."""
LEAST_APART = 2.0**-52


class Node(NamedTuple):
    """One value of w with its weight; a weight of 1 is that of w = 1, the likeliest logarithm."""

    root: float
    weight: float


class NoncentralT:
    """The law of T′ for ν degrees of freedom, 1 or more, and the noncentrality δ.

    The average is taken over y = ln w by the trapezoid rule, whose error falls exponentially with the number of nodes, and
    divided by that of 1, which saves the gamma function. What the rule and the cut ends leave out is below 1e-17, proved in
    `step_between`; what rounding adds is below 1e-12 for |δ| up to 3000, as δ itself is off by 2⁻⁵³ of its size.
    """

    def __init__(self, degrees: int, noncentrality: float) -> None:
        """Nothing is worked out before it is asked for."""
        self.degrees, self.noncentrality = degrees, noncentrality

    @cached_property
    def _nodes(self) -> tuple[Node, ...]:
        step = step_between(self.degrees, self.noncentrality, DIGITS)
        return (*self._side(step, 0), *self._side(-step, 1))

    def _side(self, step: float, first: int) -> tuple[Node, ...]:
        """The nodes on one side, until a weight is below exp(-46): from there on it falls at least as exp(-ν·|y|)."""
        logs = (each * step for each in count(first))
        row = (Node(exp(y), exp(self.degrees * (y - expm1(2 * y) / 2))) for y in logs)
        return tuple(takewhile(lambda node: node.weight > exp(-DIGITS - 3), row))

    @cached_property
    def _total(self) -> float:
        return fsum(node.weight for node in self._nodes)

    def at_most(self, bound: float) -> float:
        """P(T′ ≤ bound)."""
        delta = self.noncentrality
        return fsum(weight * share_below(bound * root - delta) for root, weight in self._nodes) / self._total

    def at_least(self, bound: float) -> float:
        """P(T′ ≥ bound), as good in the far tail as the other."""
        delta = self.noncentrality
        return fsum(weight * share_below(delta - bound * root) for root, weight in self._nodes) / self._total

    def quantile(self, share: Fraction) -> float:
        """The t that T′ is at most in this share of samples, 0 < share < 1, down to the last digits of a double.

        Above one half the tail that is left is compared, so that a share of 1 − 1e-9 is told as well as one of 1e-9.
        """
        low, high = self.noncentrality - 1, self.noncentrality + 1
        while not self._is_below(low, share):
            low -= 2 * (high - low)
        while self._is_below(high, share):
            high += 2 * (high - low)
        while high - low > LEAST_APART * max(1.0, abs(low), abs(high)):
            middle = (low + high) / 2
            low, high = (middle, high) if self._is_below(middle, share) else (low, middle)
        return (low + high) / 2

    def _is_below(self, bound: float, share: Fraction) -> bool:
        """Whether T′ is at most the bound in less than that share of samples."""
        return self.at_most(bound) < float(share) if share < HALF else self.at_least(bound) > float(1 - share)


def step_between(degrees: int, noncentrality: float, digits: float) -> float:
    """The distance of two nodes in ln w at which the rule is off by less than 10·exp(-digits) of the average.

    Both integrands are analytic for |Im y| ≤ v < π/4. On that line the weight's absolute value integrates to cos(2v)^(-ν/2)
    times the weight's own integral, and |Φ(t·w − δ)| ≤ 2·exp(δ²·sin²v/(2·cos 2v)) whatever t is, since |Φ(a + ib)| is at most
    1 + exp((b² − a²)/2). With A the sum of the two exponents the trapezoid rule is off by at most 4·e^A/(e^(2πv/h) − 1).
    Any v will do; the one that lets h be greatest is taken.
    Source of the last bound: Trefethen and Weideman, SIAM Review 56 (2014), theorem 5.1.
    """

    def exponent(strip: float) -> float:
        narrowing = cos(2 * strip)
        return -degrees * log(narrowing) / 2 + noncentrality**2 * sin(strip) ** 2 / (2 * narrowing)

    return max(2 * pi * strip / (exponent(strip) + digits) for strip in STRIPS)
