"""What requirements of all kinds say alike in a specification."""

from typing import Annotated, Any

from msgspec import UNSET, Meta, Struct, UnsetType

from service.engine.limits import Over, Rounding
from service.engine.sampling import Sample
from service.engine.texts import LongText, Name, RequirementId, Text

NotNegative = Annotated[float, Meta(ge=0)]


class Requirement(Struct, frozen=True, forbid_unknown_fields=True, tag_field="kind", kw_only=True):
    """One rule that a grade puts on a characteristic; `kind` says which."""

    id: RequirementId
    of: Name
    binding: bool | UnsetType = UNSET
    """True where left out. A finding that is not binding is reported and moves no verdict."""
    decision: Any | UnsetType = UNSET
    """Simple acceptance where left out; nothing else is known here yet."""
    clause: Text | UnsetType = UNSET
    """Where the buyer's document says it."""
    note: LongText | UnsetType = UNSET


class Measured(Requirement, frozen=True, kw_only=True):
    """What all kinds say that judge readings."""

    over: Over | UnsetType = UNSET
    """`readings`, all alike, where left out; `packages`: each package's mean counts as one value."""
    sample: Sample | UnsetType = UNSET
    """Replaces the sample that stands on the characteristic."""
    rounding: Rounding | UnsetType = UNSET
