"""Demands laid on, or one unit in the last place beside, what readings give."""

from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction
from math import inf, nextafter
from random import Random
from typing import Any, NamedTuple

from tests.support.columns import GREATEST, LEAST
from tests.support.exact import exact, root
from tests.support.simple_judge import mean_of, variance_of

Body = dict[str, Any]
STEPS = (1, 0.5, 0.1, 0.05, 0.01, 0.005, 2, 5, 0.25)


def in_range(value: float, otherwise: float) -> float:
    """The value where it may be sent."""
    return value if value == 0 or LEAST <= abs(value) <= GREATEST else otherwise


def beside(rng: Random, number: float, digits: int) -> float:
    """The numeral of so many digits, with one more or less in its last place."""
    mantissa, exponent = f"{number:.{digits - 1}e}".split("e")
    whole = int(mantissa.replace(".", "")) + rng.choice((-1, 1))
    return float(f"{whole}e{int(exponent) - digits + 1}")


class Edge(NamedTuple):
    """Draws numbers at the edge, negative ones only where the quantity may be negative."""

    rng: Random
    may_be_negative: bool

    def near(self, target: Fraction) -> float:
        """A number on the target or just beside it, as near as a double or a last digit goes, or farther off."""
        on = float(target)
        ways = (
            on,
            on,
            nextafter(on, inf),
            nextafter(on, -inf),
            float(f"{on:.6g}"),
            float(f"{on:.15g}"),
            beside(self.rng, on, 6),
            beside(self.rng, on, 15),
            on * self.rng.choice((0.9, 0.99, 1.01, 1.1)),
            float(round(on)),
        )
        number = self.rng.choice(ways)
        number = number if self.may_be_negative else max(number, 0.0)
        return in_range(number, self.rng.choice((LEAST, GREATEST, 1.0)))

    def limits(self, low: Fraction, high: Fraction) -> Body:
        """Limits of which a side lies at one of the two numbers, in either form."""
        form = self.rng.choice(("lower", "upper", "both", "both", "nominal"))
        lower, upper = sorted((self.near(low), self.near(high)))
        if form == "nominal":
            return self.percent_about(low) if self.rng.random() < 0.5 else self.absolute_about(low)
        return {side: value for side, value in (("lower", lower), ("upper", upper)) if form in {side, "both"}}

    def percent_about(self, at: Fraction) -> Body:
        """A nominal whose lower limit, so many per cent below, lies at a number or near it."""
        percent = self.rng.choice((5, 2.5, 10, 0.1, 0, 100))
        nominal = self.near(at * 100 / (100 - exact(percent)) if percent < 100 else at)
        return {"nominal": nominal, "minus": percent, "plus": self.rng.choice((5, 0, 3)), "tolerance": "percent"}

    def absolute_about(self, at: Fraction) -> Body:
        """A nominal whose lower limit, so much below, lies at a number or near it."""
        minus = self.rng.choice((0, 1, 0.1, 5))
        nominal = self.near(at + exact(minus))
        minus = minus if self.may_be_negative else in_range(min(minus, nominal), 0)
        return {"nominal": nominal, "minus": minus, "plus": self.rng.choice((0, 1, 0.3)), "tolerance": "absolute"}

    def outer(self, limits: Mapping[str, float], least: Fraction, most: Fraction) -> Body:
        """Bounds outside the limits, on the sides that they bound, at the extremes."""
        outer = {}
        if "lower" in limits:
            outer["lower"] = min(limits["lower"], self.near(least))
        if "upper" in limits and (not outer or self.rng.random() < 0.5):
            outer["upper"] = max(limits["upper"], self.near(most))
        return outer

    def rounding(self, value: Fraction) -> Body:
        """A step of the trade, or one of which the value is an odd number of halves."""
        step: float = self.rng.choice(STEPS)
        if self.rng.random() < 0.3:
            step = in_range(abs(float(value)) * 2 / self.rng.choice((1, 3, 5, 7, 2001)), 1) or 1
        return {"step": step, "ties": self.rng.choice(("even", "away"))}


def demands(rng: Random, kind: str, values: Sequence[Fraction], *, may_be_negative: bool) -> Body:
    """What a requirement of this kind demands, near to what the values give."""
    values = values or [Fraction(100)]
    edge = Edge(rng, may_be_negative)
    made = DEMANDS[kind](edge, values)
    if kind != "variables" and rng.random() < 0.3:
        made["rounding"] = edge.rounding(values[0])
    if rng.random() < 0.2:
        made["binding"] = False
    return made


def each_demands(edge: Edge, values: Sequence[Fraction]) -> Body:
    """Limits at readings, some allowed outside, an outer limit at the worst one."""
    rng = edge.rng
    made: Body = {"limits": edge.limits(rng.choice(values), rng.choice(values))}
    if rng.random() < 0.5:
        some = ({"count": rng.randint(0, 3)}, {"count": len(values)}, {"percent": rng.choice((0, 10, 20, 33.3, 50, 100))})
        made["allowed_outside"] = rng.choice(some)
    if "nominal" not in made["limits"] and rng.random() < 0.4:
        made["outer"] = edge.outer(made["limits"], min(values), max(values))
    return made


def mean_demands(edge: Edge, values: Sequence[Fraction]) -> Body:
    """Limits at the mean."""
    return {"limits": edge.limits(mean_of(values), mean_of(values))}


def spread_demands(edge: Edge, values: Sequence[Fraction]) -> Body:
    """A statistic, and its own value as the most it may be."""
    statistic = edge.rng.choice(("standard_deviation", "standard_deviation", "range", "coefficient_of_variation"))
    variance = variance_of(values) if len(values) > 1 else Fraction(1)
    target: Fraction = max(values) - min(values) if statistic == "range" else root(variance).low
    if statistic == "coefficient_of_variation" and mean_of(values):
        target = abs(100 * target / mean_of(values))
    return {"statistic": statistic, "at_most": Edge(edge.rng, may_be_negative=False).near(target)}


def variables_demands(edge: Edge, values: Sequence[Fraction]) -> Body:
    """A limit so many standard deviations off the mean."""
    k: float = edge.rng.choice((0, 0, 1, 1.53, 0.5, 2, 1.12))
    deviation = root(variance_of(values)).low if len(values) > 1 else Fraction(0)
    limits = edge.limits(mean_of(values) - exact(k) * deviation, mean_of(values) + exact(k) * deviation)
    if "lower" in limits and deviation and edge.rng.random() < 0.5:
        k = Edge(edge.rng, may_be_negative=False).near(abs(mean_of(values) - exact(limits["lower"])) / deviation)
    return {"limits": limits, "k": k}


DEMANDS: dict[str, Callable[[Edge, Sequence[Fraction]], Body]] = {
    "each": each_demands,
    "mean": mean_demands,
    "spread": spread_demands,
    "variables": variables_demands,
}
