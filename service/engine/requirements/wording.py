"""Sentences about a value beside a limit, and the reasons that carry them."""

from fractions import Fraction
from math import isqrt

from msgspec import Struct

from service.engine.bounds import Side, Standing
from service.engine.figures import Figures, figures_of
from service.engine.numerals import Exact, decimals_of, placed, plain
from service.engine.readings import Pointers
from service.engine.units import with_unit
from service.engine.verdict import Reason

CODES = {"lower": "below-lower", "upper": "above-upper"}


def on_a_limit(subject: str, standing: Standing, side: Side, at: Pointers) -> Reason:
    """A value that has to be within limits: `within`, `below-lower` or `above-upper`; `subject` ends where it begins."""
    code = "within" if standing.is_met else CODES[side.name]
    text = f"{subject}{standing.shown}, {standing.where}."
    return Reason(code, text, beside(standing, side), side.pointer, at.first, at.total)


def beside(standing: Standing, side: Side) -> dict[str, object]:
    """The parameters of a reason about a value beside a limit."""
    return {"value": standing.value, "limit": side.reported, "unit": side.unit, "by": abs(standing.distance)}


class Spreading(Struct, frozen=True):
    """Where a statistic lies beside the most that it may be, worked out once for all that is said of it."""

    code: str
    value: float
    margin: float
    """How far below the most that may be; negative above it."""
    shown: str
    where: str


def most_of(at_most: Fraction, unit: str) -> Figures:
    """How statistics beside the most that may be are written."""
    most = f"the most that may be, {with_unit(plain(at_most), unit)}"
    return figures_of(at_most, decimals_of(at_most), unit, most, f"exactly {most}")


BITS = 64
"""Behind the point of a root that is looked at once."""


def root_below_at_most(numerator: int, denominator: int, most: Figures) -> Spreading | None:
    """What `below_at_most` says of √(numerator / denominator), by one integer root where its bits settle every figure.

    None where they don't: where the root is above the most that may be, or its neighbour would be told otherwise. The root
    lies between two neighbouring multiples of 2^-64, or on the lower one; each figure is a rounding, or a comparison, that is
    the same for both, and so for all between. Only the figure of a sentence rounds a tie to the even digit, and on one the
    root would be the lower multiple itself.
    """
    low, one = isqrt((numerator << 2 * BITS) // denominator), 1 << BITS
    value, whole = low / one, most.denominator << BITS
    least = low * most.denominator - (most.numerator << BITS)
    apart, twice = least / whole, 2 * most.scale * low
    shown, rest = divmod(twice, one)
    is_settled = value == (low + 1) / one and apart == (least + most.denominator) / whole
    if apart >= 0 or not is_settled or not rest or rest + 2 * most.scale >= one:
        return None
    found = most.shortly((shown + 1) // 2, apart)
    return Spreading("within", value, 0.0 - apart, *found) if found else None


def below_at_most(value: Exact, most: Figures) -> Spreading:
    """A statistic that has to be no greater than the most that may be: `within` or `above-at-most`."""
    nearest, apart = placed(value, most.limit)
    shown, where = most.beside(value, apart)
    return Spreading("within" if apart <= 0 else "above-at-most", nearest, 0.0 - apart, shown, where)
