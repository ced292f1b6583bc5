"""What requirements of all kinds say alike in a specification."""

from typing import Annotated, Literal

from msgspec import UNSET, Meta, Struct, UnsetType

from service.engine.characteristics import Limits, Over, Rounding
from service.engine.documents import LongText, Name, RequirementId, Text, Uncertainty
from service.engine.sampling import Sample

NotNegative = Annotated[float, Meta(ge=0)]


class Decision(Struct, frozen=True, forbid_unknown_fields=True):
    """How the uncertainty of a measured value bears on the outcome; simple acceptance takes no account of it.

    Source: JCGM 106:2012, 8.2 and 8.3; ILAC-G8:09/2019, 4.2.
    """

    rule: Literal["simple", "guarded_acceptance", "guarded_rejection"]
    uncertainty: Uncertainty | UnsetType = UNSET
    """Left out where every series states its own."""
    between: Literal["fail", "undecided"] | UnsetType = UNSET
    """The outcome between the guarded limits; `undecided` where left out."""


class Retest(Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """A second sample that is allowed where the first has failed; it decides alone, or both do together."""

    sample: Sample
    judge: Literal["second", "together"]


class Requirement(Struct, frozen=True, forbid_unknown_fields=True, tag_field="kind", kw_only=True):
    """One rule that a grade makes; `kind` says which."""

    id: RequirementId
    binding: bool | UnsetType = UNSET
    """True where left out. A finding that is not binding is reported and moves no verdict."""
    decision: Decision | UnsetType = UNSET
    """Simple acceptance where left out."""
    clause: Text | UnsetType = UNSET
    """Where the buyer's document says it."""
    note: LongText | UnsetType = UNSET


class OnCharacteristic(Requirement, frozen=True, kw_only=True):
    """What all kinds say that are put on one characteristic."""

    of: Name


class Measured(OnCharacteristic, frozen=True, kw_only=True):
    """What all kinds say that judge readings."""

    over: Over | UnsetType = UNSET
    """`readings`, all alike, where left out; `packages`: each package's mean counts as one value."""
    sample: Sample | UnsetType = UNSET
    """Replaces the sample that stands on the characteristic."""
    rounding: Rounding | UnsetType = UNSET
    retest: Retest | UnsetType = UNSET


class Limited(Measured, frozen=True, kw_only=True):
    """What all kinds say that compare something with limits."""

    limits: Limits
