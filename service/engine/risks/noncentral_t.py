"""The noncentral t distribution: that of √n·(mean − limit)/s, mean and s of one normal sample.

T′ = (Z + δ)/W, where Z is standard normal and W² is chi square divided by its degrees of freedom ν. Given W = w, T′ ≤ t
means Z ≤ t·w − δ, so that the distribution function is Φ(t·w − δ) averaged over w.
"""

from fractions import Fraction
from functools import cached_property
from itertools import count, takewhile
from math import cos, exp, expm1, fsum, log, pi, sin
from typing import NamedTuple

from service.engine.risks.normal import HALF, normal_cdf

CUT_OFF = 43.0
"""exp(-43) is 2e-19: the error of the quadrature; nodes end at a weight that is smaller still."""
STRIPS = tuple(0.7 * 0.7**number for number in range(40))
"""Half-widths of the strip of analyticity to choose from, all below pi/4; see `node_spacing`."""
LEAST_APART = 2.0**-52


class Node(NamedTuple):
    """A node of the quadrature: w, and its weight relative to that of w = 1, where the density of ln w is greatest."""

    root: float
    weight: float


class NoncentralT:
    """The distribution of T′ for ν degrees of freedom, 1 or more, and the noncentrality δ.

    Probabilities are off by less than 1e-12 for |δ| up to 3000: the quadrature leaves out less than 1e-17, proved in
    `node_spacing`, and the rest is rounding, as δ itself is off by 2⁻⁵³ of its size.
    """

    # The average over y = ln w is calculated by the trapezoid rule, whose error falls exponentially with the number of nodes,
    # and divided by the average of 1 by the same rule, which saves the gamma function of the density.

    def __init__(self, degrees: int, noncentrality: float) -> None:
        """Take the parameters; the nodes are calculated when first needed."""
        self.degrees, self.noncentrality = degrees, noncentrality

    @cached_property
    def _nodes(self) -> tuple[Node, ...]:
        step = node_spacing(self.degrees, self.noncentrality, CUT_OFF)
        return (*self._side(step, 0), *self._side(-step, 1))

    def _side(self, step: float, first: int) -> tuple[Node, ...]:
        """The nodes on one side of w = 1, up to a weight of exp(-46); from there on it falls at least as exp(-ν·|y|)."""
        logs = (number * step for number in count(first))
        row = (Node(exp(y), exp(self.degrees * (y - expm1(2 * y) / 2))) for y in logs)
        return tuple(takewhile(lambda node: node.weight > exp(-CUT_OFF - 3), row))

    @cached_property
    def _total(self) -> float:
        return fsum(node.weight for node in self._nodes)

    def at_most(self, bound: float) -> float:
        """P(T′ ≤ bound)."""
        delta = self.noncentrality
        return fsum(weight * normal_cdf(bound * root - delta) for root, weight in self._nodes) / self._total

    def at_least(self, bound: float) -> float:
        """P(T′ ≥ bound), with the same relative precision in its tail as `at_most` has in the other."""
        delta = self.noncentrality
        return fsum(weight * normal_cdf(delta - bound * root) for root, weight in self._nodes) / self._total

    def quantile(self, share: Fraction) -> float:
        """The t with P(T′ ≤ t) = share, 0 < share < 1, to the last digits of a double."""
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
        """Whether P(T′ ≤ bound) < share."""
        # Above one half the other tail is compared, so that a share of 1 − 1e-9 is as precise as one of 1e-9.
        return self.at_most(bound) < float(share) if share < HALF else self.at_least(bound) > float(1 - share)


def node_spacing(degrees: int, noncentrality: float, cut_off: float) -> float:
    """The distance h of two nodes in ln w at which the trapezoid rule is off by less than 10·exp(-cut_off) of the average.

    Proof: both integrands are analytic for |Im y| ≤ v < π/4. On that line the weight's absolute value integrates to
    cos(2v)^(-ν/2) times the weight's own integral, and |Φ(t·w − δ)| ≤ 2·exp(δ²·sin²v/(2·cos 2v)) for every t, since
    |Φ(a + ib)| is at most 1 + exp((b² − a²)/2). With A the sum of the two exponents the trapezoid rule is off by at most
    4·e^A/(e^(2πv/h) − 1). This holds for any v; the v that allows the greatest h is used.
    Source of the last bound: Trefethen and Weideman, SIAM Review 56 (2014), theorem 5.1.
    """

    def exponent(strip: float) -> float:
        narrowing = cos(2 * strip)
        return -degrees * log(narrowing) / 2 + noncentrality**2 * sin(strip) ** 2 / (2 * narrowing)

    return max(2 * pi * strip / (exponent(strip) + cut_off) for strip in STRIPS)
