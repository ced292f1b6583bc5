"""Sentences about a value beside a limit, and the reasons that carry them."""

from fractions import Fraction

from service.engine.bounds import Side
from service.engine.lots import Pointers
from service.engine.numerals import Exact, decimals_of, difference, figures_beside, is_below, nearest_double
from service.engine.verdict import Reason

CODES = {"lower": "below-lower", "upper": "above-upper"}
INSIDE, OUTSIDE = {"lower": "above", "upper": "below"}, {"lower": "below", "upper": "above"}


def with_unit(figure: str, unit: str) -> str:
    """`1400 N`; a plain ratio has no unit to show."""
    return figure if unit in ("1", "") else f"{figure} {unit}"


def apart(figure: str, unit: str) -> str:
    """A distance: of two percentages in percentage points, since 6 % above 55 % could be taken for 58.3 %."""
    return f"{figure} percentage points" if unit == "%" else with_unit(figure, unit)


def beside(value: Fraction, side: Side, unit: str, name: str = "limit") -> tuple[str, str]:
    """(the value, where it lies): `1392.4 N`, `is 7.6 N below the lower limit of 1400 N`."""
    shown, by = figures_beside(value, side.limit, side.decimals)
    limit = f"the {side.name} {name} of {with_unit(side.text, unit)}"
    if value == side.limit:
        return with_unit(shown, unit), f"is exactly on {limit}"
    words = INSIDE if side.is_met(value) else OUTSIDE
    return with_unit(shown, unit), f"is {apart(by, unit)} {words[side.name]} {limit}"


def on_a_limit(subject: str, value: Fraction, side: Side, unit: str, at: Pointers) -> Reason:
    """A value that has to be within limits: `within`, `below-lower` or `above-upper`; `subject` ends where it begins."""
    shown, where = beside(value, side, unit)
    code = "within" if side.is_met(value) else CODES[side.name]
    parameters = {"value": nearest_double(value), "limit": side.reported, "unit": unit, "by": abs(side.distance(value))}
    return Reason(code, f"{subject}{shown}, {where}.", parameters, side.pointer, at.first, at.total)


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
        return "within", f"{head} is {apart(by, unit)} below the most that may be, {with_unit(text, unit)}.", parameters
    return "above-at-most", f"{head} is {apart(by, unit)} above the most that may be, {with_unit(text, unit)}.", parameters
