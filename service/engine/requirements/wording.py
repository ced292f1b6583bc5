"""Reasons and sentences about a value that is compared with a limit."""

from fractions import Fraction

from msgspec import Struct

from service.engine.characteristics import Bounds, CompiledCharacteristic, LimitSide, Pointers, Position
from service.engine.documents import Missing, Reason, counted, packages_in_words
from service.engine.numbers import Exact, Figures, decimals_of, figures_of, placed, plain, with_unit

ORDINALS = ("", "second ", "third ", "fourth ", "fifth ", "sixth ", "seventh ", "eighth ", "ninth ", "tenth ")
EXTREMES = {"lower": "lowest", "upper": "highest"}
CODES = {"lower": "below-lower", "upper": "above-upper"}


def limit_reason(subject: str, position: Position, side: LimitSide, at: Pointers) -> Reason:
    """The reason on a value that has limits: `within`, `below-lower` or `above-upper`.

    subject  the start of the sentence, up to the value
    at       pointers to the readings or declarations behind the value
    """
    code = "within" if position.is_met else CODES[side.name]
    text = f"{subject}{position.shown}, {position.where}."
    return Reason(code, text, limit_parameters(position, side), side.pointer, at.first, at.total)


def limit_parameters(position: Position, side: LimitSide) -> dict[str, object]:
    """The parameters of a reason about a value and its limit."""
    return {"value": position.value, "limit": side.reported, "unit": side.unit, "by": abs(position.distance)}


class ComparedWithMost(Struct, frozen=True):
    """A statistic compared with the most that it may be, and its words in a sentence."""

    code: str
    value: float
    margin: float
    """The most that may be, less the statistic; negative above it."""
    shown: str
    where: str


def missing_text(missing: Missing, of: CompiledCharacteristic, each: int) -> str:
    """The missing readings of a characteristic in a sentence: `runnage on 4 more balls`.

    each  how many readings the sample has of one package
    """
    readings = missing.readings or 0
    # A package that has readings already lacks fewer than `each`, so the product is reached by new packages alone.
    if readings != each * missing.packages:
        return f"{counted(readings, 'more reading')} of {of.words} on {packages_in_words(missing.packages, of.package)}"
    on = packages_in_words(missing.packages, of.package, more=True)
    if each == 1:
        return f"{of.words} on {on}"
    if missing.packages == 1:
        return f"{each} readings of {of.words} on {on}"
    return f"{of.words}, {each} readings on each of {on}"


def most_figures(at_most: Fraction, unit: str) -> Figures:
    """How statistics are written that are compared with `at_most`, in this unit; made once at compilation."""
    most = f"the most allowed, {with_unit(plain(at_most), unit)}"
    return figures_of(at_most, decimals_of(at_most), unit, most, f"exactly {most}")


def compared_with_most(value: Exact, figures: Figures) -> ComparedWithMost:
    """A statistic compared with the most that it may be; its code is `within` or `above-at-most`."""
    nearest, excess, figure = placed(value, figures.limit, figures.scale)
    shown, where = figures.beside(value, figure, excess)
    # 0.0 − excess, as −excess would turn an exact hit into −0.0.
    return ComparedWithMost("within" if excess <= 0 else "above-at-most", nearest, 0.0 - excess, shown, where)


def ranked_word(bounds: Bounds, side: LimitSide, rank: int) -> str:
    """The name of a value in a sentence, by its rank from the worst: `the lowest`, `the second highest`, `the third worst`.

    bounds  of both sides, where the worst values may be at either end
    rank    from 0
    """
    # The worst is the lowest beside a lower limit. Behind it the values of both ends alternate in any order.
    return f"the {ordinal(rank)}{EXTREMES[side.name] if rank == 0 or bounds.alone else 'worst'}"


def ordinal(rank: int) -> str:
    """The rank before a superlative: nothing for 0, `second ` for 1, `11th ` for 10."""
    return ORDINALS[rank] if rank < len(ORDINALS) else f"{rank + 1}th "


def value_text(position: Position, sent: str | None, *, is_rounded: bool) -> str:
    """A reading in a sentence, first as it was sent: `35.9 kN, which is 8070.6 lbf`; `rounded to 262 lbf`.

    sent  the reading as sent, where that was in another unit
    """
    return before_value(sent, is_rounded=is_rounded) + position.shown


def before_value(sent: str | None, *, is_rounded: bool) -> str:
    """What a sentence says before a reading in the grade's unit: `35.9 kN, which is `, `rounded to `, or nothing."""
    if sent is None:
        return "rounded to " if is_rounded else ""
    return f"{sent}, which {'rounded ' if is_rounded else ''}is "
