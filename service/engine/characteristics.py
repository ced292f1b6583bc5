"""Characteristics of a compiled grade: what unit they are judged in, and how a reading in another comes to it."""

from collections.abc import Mapping
from fractions import Fraction
from functools import cache

from msgspec import Struct
from msgspec.structs import force_setattr

from service.engine.sampling import Sample
from service.engine.units import RECIPROCAL, Unit, units_of
from service.engine.vocabulary import Quantity


class Conversion(Struct, frozen=True):
    """From a unit that readings may come in: value × factor, or factor / value where the unit is of the reciprocal quantity."""

    factor: Fraction
    turned_round: bool = False


class Quotient(Struct, frozen=True):
    """How a derived characteristic comes from two measured ones, in its own unit: numerator / denominator × factor."""

    of_means: bool
    numerator: "CompiledCharacteristic"
    denominator: "CompiledCharacteristic"
    factor: Fraction


class CompiledCharacteristic(Struct, frozen=True):
    """A characteristic without flaws; `unit` is None for a category."""

    pointer: str
    """`/characteristics/1`"""
    name: str
    quantity: Quantity
    unit: Unit | None
    sample: Sample | None
    derived: Quotient | None
    conversions: Mapping[str, Conversion]
    """By every word that a series may give as its unit."""
    words: str = ""
    """Its name in a sentence: `knot breaking force`."""
    symbol: str = ""
    """The symbol of its unit; a category has none."""

    def __post_init__(self) -> None:
        """Work out what sentences say, once for all of them."""
        force_setattr(self, "words", self.name.replace("_", " "))
        force_setattr(self, "symbol", self.unit.symbol if self.unit else "")

    @property
    def sources(self) -> "tuple[CompiledCharacteristic, ...]":
        """The measured characteristics that its values come from: itself, or the two sides of its quotient."""
        return (self.derived.numerator, self.derived.denominator) if self.derived else (self,)


@cache
def conversions_to(unit: Unit) -> Mapping[str, Conversion]:
    """How readings come to this unit, by every word for a unit of its quantity or of the reciprocal one."""
    ready = {word: Conversion(source.factor / unit.factor) for source in units_of(unit.quantity) for word in source.words}
    reciprocal = RECIPROCAL.get(unit.quantity)
    for source in units_of(reciprocal) if reciprocal else ():
        turned = Conversion(1 / (source.factor * unit.factor), turned_round=True)
        ready.update(dict.fromkeys(source.words, turned))
    return ready


def symbols_for(quantity: Quantity) -> list[str]:
    """Symbols of the units that readings of this quantity may come in."""
    reciprocal = RECIPROCAL.get(quantity)
    return [unit.symbol for each in (quantity, reciprocal) if each for unit in units_of(each)]
