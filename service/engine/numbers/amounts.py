"""What a length or a mass that a document states comes to, and whether its unit is one."""

from collections.abc import Iterator, Sequence
from fractions import Fraction

from service.engine.documents import Amount, Flaw, Quantity, did_you_mean, in_words, listed, quoted
from service.engine.numbers.numerals import exact
from service.engine.numbers.units import find_unit, units_of


def quantity_of(amount: Amount) -> Quantity | None:
    """What it is an amount of; None where its unit is not known."""
    unit = find_unit(amount.unit, "length")
    return unit.quantity if unit else None


def in_base_unit(amount: Amount) -> Fraction:
    """The amount in the SI base unit of its quantity, exactly: 1 km is 1000 m. Its unit has been looked at before."""
    unit = find_unit(amount.unit, "length")
    assert unit
    return exact(amount.value) * unit.factor


def amount_unit_flaws(amount: Amount, quantities: Sequence[Quantity], what: str, at: str) -> Iterator[Flaw]:
    """Its unit is one of the table, and of one of these quantities.

    what  begins the sentence: `the length of the lot is a length`
    at    pointer to the amount
    """
    quantity = quantity_of(amount)
    if quantity in quantities:
        return
    symbols = [unit.symbol for each in quantities for unit in units_of(each)]
    if quantity is None:
        near = did_you_mean(amount.unit, symbols)
        text = f"{quoted(amount.unit)} is no unit known here.{near} Write one of {listed(symbols)}."
        yield Flaw("unknown-unit", text, f"{at}/unit")
    else:
        text = f"{quoted(amount.unit)} is a unit of {in_words(quantity)} and {what}. Write one of {listed(symbols)}."
        yield Flaw("unit-of-other-quantity", text, f"{at}/unit")
