"""Lengths and masses stated with a unit: their quantity, their value in the SI base unit, and flaws of the unit."""

from collections.abc import Iterator, Sequence
from fractions import Fraction

from service.engine.documents import Amount, Flaw, Quantity, did_you_mean, in_words, one_of, quoted
from service.engine.numbers.numerals import exact, plain
from service.engine.numbers.units import find_unit, units_of


def quantity_of(amount: Amount) -> Quantity | None:
    """The quantity of the amount, by its unit; None for an unknown unit."""
    # `length` stands for any quantity but `count`: only `1` names different units, a count's and a ratio's.
    unit = find_unit(amount.unit, "length")
    return unit.quantity if unit else None


def in_base_unit(amount: Amount) -> Fraction:
    """The amount in the SI base unit of its quantity, exactly: 1 km is 1000 m. The unit is one of the table, checked before."""
    unit = find_unit(amount.unit, "length")
    assert unit
    return exact(amount.value) * unit.factor


def amount_text(amount: Amount) -> str:
    """The amount with the unit's symbol: `1000 m`. The unit is one of the table, checked before."""
    unit = find_unit(amount.unit, "length")
    assert unit
    return f"{plain(exact(amount.value))} {unit.symbol}"


def amount_unit_flaws(amount: Amount, quantities: Sequence[Quantity], what: str, at: str) -> Iterator[Flaw]:
    """The flaw of an amount whose unit is unknown, or of none of these quantities.

    what  part of the sentence: `the length of the lot is a length`
    at    JSON Pointer to the amount
    """
    quantity = quantity_of(amount)
    if quantity in quantities:
        return
    symbols = [unit.symbol for wanted in quantities for unit in units_of(wanted)]
    if quantity is None:
        near = did_you_mean(amount.unit, symbols)
        text = f"{quoted(amount.unit)} is not a known unit.{near} Write {one_of(symbols)}."
        yield Flaw("unknown-unit", text, f"{at}/unit")
    else:
        text = f"{quoted(amount.unit)} is a unit of {in_words(quantity)} and {what}. Write {one_of(symbols)}."
        yield Flaw("unit-of-other-quantity", text, f"{at}/unit")
