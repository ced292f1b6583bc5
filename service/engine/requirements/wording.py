"""Sentences about a value beside a limit, and the reasons that carry them."""

from fractions import Fraction

from service.engine.bounds import Side, Standing
from service.engine.lots import Pointers
from service.engine.numerals import Exact, decimals_of, difference, figures_beside, is_below, nearest_double
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


def not_above(
    subject: str, value: Exact, at_most: Fraction, limit: tuple[str, int | float], unit: str
) -> tuple[str, str, dict[str, object]]:
    """(code, sentence, parameters) of a statistic that has to be no greater than `at_most`; `limit` as (text, reported)."""
    text, number = limit
    shown, by = figures_beside(value, at_most, decimals_of(at_most))
    head = f"{subject}{with_unit(shown, unit)},"
    parameters: dict[str, object] = {
        "value": nearest_double(value),
        "limit": number,
        "unit": unit,
        "by": abs(difference(value, at_most)),
    }
    if value == at_most:
        return "within", f"{head} is exactly the most that may be.", parameters
    if is_below(value, at_most):
        return "within", f"{head} is {apart_in(by, unit)} below the most that may be, {with_unit(text, unit)}.", parameters
    return "above-at-most", f"{head} is {apart_in(by, unit)} above the most that may be, {with_unit(text, unit)}.", parameters
