"""Conversions of readings to the unit of a grade, and back to the unit that they were sent in."""

from collections.abc import Mapping
from fractions import Fraction
from functools import cache

from msgspec import Struct

from service.engine.documents import Quantity
from service.engine.numbers import RECIPROCAL, Unit, units_of


class Conversion(Struct, frozen=True):
    """A conversion of readings: value × factor, or factor / value from a unit of the reciprocal quantity (`turned_round`)."""

    factor: Fraction
    turned_round: bool = False

    def back(self, value: Fraction) -> Fraction:
        """The reading as it was sent, exactly, of its value in the grade's unit; not 0 where it was turned round."""
        return self.factor / value if self.turned_round else value / self.factor


@cache
def conversions_to(unit: Unit) -> Mapping[str, Conversion]:
    """Conversions to this unit by every word for a unit of its quantity or of the reciprocal one."""
    by_word = {word: Conversion(source.factor / unit.factor) for source in units_of(unit.quantity) for word in source.words}
    reciprocal = RECIPROCAL.get(unit.quantity)
    for source in units_of(reciprocal) if reciprocal else ():
        inverse = Conversion(1 / (source.factor * unit.factor), turned_round=True)
        by_word.update(dict.fromkeys(source.words, inverse))
    return by_word


def symbols_for(quantity: Quantity) -> list[str]:
    """Symbols of the units in which readings of this quantity may be sent, those of the reciprocal quantity last."""
    reciprocal = RECIPROCAL.get(quantity)
    return [unit.symbol for accepted in (quantity, reciprocal) if accepted for unit in units_of(accepted)]
