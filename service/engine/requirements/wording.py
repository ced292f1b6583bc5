"""Sentences about a value beside a limit, and the reasons that carry them."""

from fractions import Fraction

from msgspec import Struct

from service.engine.characteristics import LimitSide, Pointers, Position
from service.engine.documents import Reason
from service.engine.numbers import Exact, Figures, decimals_of, figures_of, placed, plain, with_unit

CODES = {"lower": "below-lower", "upper": "above-upper"}


def limit_reason(subject: str, position: Position, side: LimitSide, at: Pointers) -> Reason:
    """A value that has to be within limits: `within`, `below-lower` or `above-upper`; `subject` ends where it begins."""
    code = "within" if position.is_met else CODES[side.name]
    text = f"{subject}{position.shown}, {position.where}."
    return Reason(code, text, limit_parameters(position, side), side.pointer, at.first, at.total)


def limit_parameters(position: Position, side: LimitSide) -> dict[str, object]:
    """The parameters of a reason about a value beside a limit."""
    return {"value": position.value, "limit": side.reported, "unit": side.unit, "by": abs(position.distance)}


class ComparedWithMost(Struct, frozen=True):
    """Where a statistic lies beside the most that it may be, worked out once for all that is said of it."""

    code: str
    value: float
    margin: float
    """How far below the most that may be; negative above it."""
    shown: str
    where: str


def most_figures(at_most: Fraction, unit: str) -> Figures:
    """How statistics beside the most that may be are written."""
    most = f"the most that may be, {with_unit(plain(at_most), unit)}"
    return figures_of(at_most, decimals_of(at_most), unit, most, f"exactly {most}")


def compared_with_most(value: Exact, figures: Figures) -> ComparedWithMost:
    """A statistic that has to be no greater than the most that may be: `within` or `above-at-most`."""
    nearest, apart, figure = placed(value, figures.limit, figures.scale)
    shown, where = figures.beside(value, figure, apart)
    return ComparedWithMost("within" if apart <= 0 else "above-at-most", nearest, 0.0 - apart, shown, where)
