"""The vocabularies and the table of units as they are sent."""

from msgspec import UNSET, Struct, UnsetType

from service.engine.documents import Fault, Quantity


class CharacteristicShown(Struct, frozen=True):
    """A name of the vocabulary."""

    name: str
    quantity: Quantity
    meaning: str
    units: list[str]
    """In which its limits may be stated."""
    reading_units: list[str]
    """In which readings may come besides, being of the reciprocal quantity."""


class CharacteristicList(Struct, frozen=True):
    """The vocabulary."""

    characteristics: list[CharacteristicShown]


class FaultList(Struct, frozen=True):
    """The vocabulary of faults."""

    faults: list[Fault]


class UnitShown(Struct, frozen=True):
    """A unit by all the words that name it."""

    symbol: str
    name: str
    quantity: Quantity
    numerator: str
    """With `denominator`, the exact factor to the SI unit of the quantity, in digits."""
    denominator: str
    ucum: str | UnsetType = UNSET
    rec20: list[str] | UnsetType = UNSET


class UnitList(Struct, frozen=True):
    """The closed table of units."""

    units: list[UnitShown]
