"""Sentences about a value beside a limit, and the reasons that carry them."""

from fractions import Fraction
from typing import NamedTuple

from service.engine.bounds import Side, Standing
from service.engine.lots import Pointers
from service.engine.numerals import Exact, decimals_of, difference, figures_beside, nearest_double, plain, side_of
from service.engine.units import apart_in, with_unit
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


class Spreading(NamedTuple):
    """Where a statistic lies beside the most that it may be, worked out once for all that is said of it."""

    code: str
    value: float
    margin: float
    """How far below the most that may be; negative above it."""
    shown: str
    where: str


def below_at_most(value: Exact, at_most: Fraction, unit: str) -> Spreading:
    """A statistic that has to be no greater than `at_most`: `within` or `above-at-most`."""
    shown, by = figures_beside(value, at_most, decimals_of(at_most), side_of(value, at_most))
    margin = 0.0 - difference(value, at_most)
    code = "within" if margin >= 0 else "above-at-most"
    most = f"the most that may be, {with_unit(plain(at_most), unit)}"
    word = "below" if margin > 0 else "above"
    where = f"is exactly {most}" if margin == 0 else f"is {apart_in(by, unit)} {word} {most}"
    return Spreading(code, nearest_double(value), margin, with_unit(shown, unit), where)
