"""The specification, which is the document of a grade: its characteristics and the requirements on them."""

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
    """A pack of several packages, such as a bale of two balls."""

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
    """The method by which readings must be taken; a series that states another one, or none, leaves findings undecided."""
    remarks: RemarkRules | UnsetType = UNSET
    """The effect of remarks on its readings."""
    per: Literal["package", "pack"] | UnsetType = UNSET
    """The unit that is read and drawn as a sample; `package` where left out."""
    overdue_calibration: Literal["undecided", "taken"] | UnsetType = UNSET
    """Whether readings of an instrument overdue for calibration leave findings undecided or count; `taken` where left out."""


class Specification(Struct, frozen=True, forbid_unknown_fields=True):
    """The document of one revision of a grade, as sent."""

    characteristics: Annotated[list[Characteristic], Meta(max_length=MOST_CHARACTERISTICS)]
    """May be empty where no requirement is on a characteristic: all count faults or compare dates."""
    requirements: Annotated[list[Requirement], Meta(max_length=MOST_REQUIREMENTS)]
    title: Text | UnsetType = UNSET
    article: Text | UnsetType = UNSET
    package: Text | UnsetType = UNSET
    document: BuyersDocument | UnsetType = UNSET
    pack: Pack | UnsetType = UNSET
