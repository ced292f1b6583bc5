"""The grade document: what a lot of this grade must be."""

from typing import Annotated, Literal

from msgspec import UNSET, Meta, Struct, UnsetType

from service.engine.characteristics import Plausible
from service.engine.deriving import Derived
from service.engine.documents import Count, Name, Quantity, Text, UnitName
from service.engine.lot import RemarkRules
from service.engine.requirements import Requirement
from service.engine.sampling import Sample

MOST_CHARACTERISTICS = 200
MOST_REQUIREMENTS = 500


class BuyersDocument(Struct, frozen=True, forbid_unknown_fields=True):
    """The buyer's document that the grade was written from."""

    title: Text
    edition: Text | UnsetType = UNSET
    date: Annotated[str, Meta(pattern=r"^[0-9]{4}-[0-9]{2}-[0-9]{2}\Z")] | UnsetType = UNSET
    buyer: Text | UnsetType = UNSET


class Pack(Struct, frozen=True, forbid_unknown_fields=True):
    """What packages are packed in together: a bale of two balls."""

    name: Text
    holds: Count


class Characteristic(Struct, frozen=True, forbid_unknown_fields=True):
    """A measurable or declared property; a name of the vocabulary has its quantity, one of the grade's own must state it."""

    name: Name
    unit: UnitName | UnsetType = UNSET
    quantity: Quantity | UnsetType = UNSET
    sample: Sample | UnsetType = UNSET
    derived: Derived | UnsetType = UNSET
    plausible: Plausible | UnsetType = UNSET
    method: Text | UnsetType = UNSET
    """By which method readings must be taken; a series that tells another, or none, decides nothing."""
    remarks: RemarkRules | UnsetType = UNSET
    """What remarks on its readings do."""
    per: Literal["package", "pack"] | UnsetType = UNSET
    """What a reading is of, and samples are drawn of; `package` where left out."""
    overdue_calibration: Literal["undecided", "taken"] | UnsetType = UNSET
    """What readings from an instrument overdue for calibration come to: nothing, or what they say; `taken` where left out."""


class Specification(Struct, frozen=True, forbid_unknown_fields=True):
    """One revision of a grade, as sent."""

    characteristics: Annotated[list[Characteristic], Meta(max_length=MOST_CHARACTERISTICS)]
    """May be empty where the requirements only count, or go by dates."""
    requirements: Annotated[list[Requirement], Meta(max_length=MOST_REQUIREMENTS)]
    title: Text | UnsetType = UNSET
    article: Text | UnsetType = UNSET
    package: Text | UnsetType = UNSET
    document: BuyersDocument | UnsetType = UNSET
    pack: Pack | UnsetType = UNSET
