"""Documents of the vocabularies and the table of units."""

from msgspec import UNSET, Struct, UnsetType

from service.engine.documents import Fault, Quantity


class CharacteristicShown(Struct, frozen=True):
    """A characteristic of the vocabulary."""

    name: str
    quantity: Quantity
    meaning: str
    units: list[str]
    """Symbols of the units in which its limits may be stated."""
    reading_units: list[str]
    """Symbols of further units of readings: those of the reciprocal quantity."""


class CharacteristicList(Struct, frozen=True):
    """The vocabulary of characteristics."""

    characteristics: list[CharacteristicShown]


class FaultList(Struct, frozen=True):
    """The vocabulary of faults."""

    faults: list[Fault]


class UnitShown(Struct, frozen=True):
    """A unit with its symbol, name and codes."""

    symbol: str
    name: str
    quantity: Quantity
    numerator: str
    """With `denominator`: the exact factor to the SI unit of the quantity, in decimal digits."""
    denominator: str
    ucum: str | UnsetType = UNSET
    rec20: list[str] | UnsetType = UNSET


class UnitList(Struct, frozen=True):
    """The closed table of units."""

    units: list[UnitShown]
