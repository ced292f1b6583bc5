"""What a requirement of each kind says in a specification, and what all kinds say alike."""

from typing import Annotated, Any, Literal

from msgspec import UNSET, Meta, Struct, UnsetType

from service.engine.limits import Allowed, Limits, Outer, Rounding
from service.engine.sampling import Sample
from service.engine.texts import LongText, Name, RequirementId, Text

Over = Literal["readings", "packages"]
Statistic = Literal["standard_deviation", "range", "coefficient_of_variation"]
NotNegative = Annotated[float, Meta(ge=0)]
Declarable = str | float | bool
"""A text, a number or a boolean; 1 and 1.0 are equal, 1 and true are not."""


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


class Each(Measured, frozen=True, kw_only=True, tag="each"):
    """At most so many values are outside the limits, and none is outside the outer ones."""

    limits: Limits
    allowed_outside: Allowed | UnsetType = UNSET
    outer: Outer | UnsetType = UNSET


class Mean(Measured, frozen=True, kw_only=True, tag="mean"):
    """The arithmetic mean is within the limits."""

    limits: Limits


class Spread(Measured, frozen=True, kw_only=True, tag="spread"):
    """The statistic is not above `at_most`, in the characteristic's unit, or in % for a coefficient of variation."""

    statistic: Statistic
    at_most: NotNegative


class Variables(Measured, frozen=True, kw_only=True, tag="variables"):
    """Acceptance by variables: (mean − L)/s ≥ k and (U − mean)/s ≥ k. Source: MIL-STD-414, section B, Form 1."""

    limits: Limits
    k: NotNegative


class Declared(Requirement, frozen=True, kw_only=True, tag="declared"):
    """The declared value is one of `one_of`."""

    one_of: Annotated[list[Declarable], Meta(min_length=1, max_length=100)]
