"""The flaw of a unit that is unknown or of another quantity than the characteristic."""

from collections.abc import Sequence

from service.engine.documents import Flaw, Quantity, did_you_mean, in_words, listed, one_of, quoted
from service.engine.numbers.units import MEANT_AS_FORCE, find_unit


def unit_flaw(word: str, name: str, quantity: Quantity, symbols: Sequence[str], at: str, rule: str = "") -> Flaw:
    """The flaw of a word that is no unit for a characteristic of this quantity, with the units that are.

    word      the unit as written
    name      the characteristic
    symbols   units to suggest
    at, rule  JSON Pointers to the word, and into the grade
    """
    unit = find_unit(word, quantity)
    if unit is None:
        near = did_you_mean(word, symbols)
        return Flaw("unknown-unit", f"{quoted(word)} is not a known unit.{near} Write {one_of(symbols)}.", at, rule)
    remedy = f"Write {one_of(symbols)}."
    # A station's slip often has pounds and means the force; taking one for the other silently would hide a wrong unit.
    if quantity == "force" and unit.symbol in MEANT_AS_FORCE:
        others = listed(symbol for symbol in symbols if symbol != MEANT_AS_FORCE[unit.symbol])
        remedy = f"Write `{MEANT_AS_FORCE[unit.symbol]}` if that is meant, or send the force in {others}."
    text = f"{quoted(word)} is a unit of {in_words(unit.quantity)} and `{name}` is a {in_words(quantity)}. {remedy}"
    return Flaw("unit-of-other-quantity", text, at, rule)
