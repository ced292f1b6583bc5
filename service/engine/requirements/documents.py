"""The members that requirements of several kinds have in a specification."""

from typing import Annotated, Literal

from msgspec import UNSET, Meta, Struct, UnsetType

from service.engine.characteristics import Limits, Over, Rounding
from service.engine.documents import LongText, Name, RequirementId, Text, Uncertainty
from service.engine.sampling import Sample

NotNegative = Annotated[float, Meta(ge=0)]


class Decision(Struct, frozen=True, forbid_unknown_fields=True):
    """How the uncertainty of a measured value affects the outcome; simple acceptance ignores it.

    Source: JCGM 106:2012, 8.2 and 8.3; ILAC-G8:09/2019, 4.2.
    """

    rule: Literal["simple", "guarded_acceptance", "guarded_rejection"]
    uncertainty: Uncertainty | UnsetType = UNSET
    """The uncertainty of each value; left out where every series states its own."""
    between: Literal["fail", "undecided"] | UnsetType = UNSET
    """The outcome between the guarded limits; `undecided` where left out."""


class Retest(Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """A second sample that is allowed after the first has failed; it decides alone, or together with the first."""

    sample: Sample
    judge: Literal["second", "together"]


# A subclass's `tag=` is its `kind` in every document, the stored ones too, so it outlives the name of the class.
class Requirement(Struct, frozen=True, forbid_unknown_fields=True, tag_field="kind", kw_only=True):
    """One requirement of a grade; `kind` says of which kind."""

    id: RequirementId
    binding: bool | UnsetType = UNSET
    """True where left out. A finding that is not binding is reported and moves no verdict."""
    decision: Decision | UnsetType = UNSET
    """Simple acceptance where left out."""
    clause: Text | UnsetType = UNSET
    """The clause of the buyer's document that asks for it."""
    note: LongText | UnsetType = UNSET


class OnCharacteristic(Requirement, frozen=True, kw_only=True):
    """A requirement of any kind that is on one characteristic."""

    of: Name


class Measured(OnCharacteristic, frozen=True, kw_only=True):
    """A requirement of any kind that judges readings."""

    over: Over | UnsetType = UNSET
    """The values that are judged: `readings` (where left out), or `packages`, the mean of each package as one value."""
    sample: Sample | UnsetType = UNSET
    """Replaces the sample of the characteristic."""
    rounding: Rounding | UnsetType = UNSET
    retest: Retest | UnsetType = UNSET


class Limited(Measured, frozen=True, kw_only=True):
    """A requirement of any kind that compares a value with limits."""

    limits: Limits
