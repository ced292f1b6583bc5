"""Limits and rounding as a specification states them."""

from typing import Annotated, Literal

from msgspec import UNSET, Meta, Struct, UnsetType, field

from service.engine.documents import Name, RequirementId, UnitName
from service.engine.numbers import Ties, Toward

Tolerance = Literal["percent", "absolute"]
Over = Literal["readings", "packages"]
"""What counts as one value: a reading, or the mean of a package."""


class Rounding(Struct, frozen=True, forbid_unknown_fields=True):
    """A value is rounded to a multiple of `step`: to the nearest, a tie by `ties`; or always `toward` one side."""

    step: Annotated[float, Meta(gt=0)]
    ties: Ties | UnsetType = UNSET
    toward: Toward | UnsetType = UNSET


class Row(Struct, frozen=True, forbid_unknown_fields=True):
    """One row of a schedule: the limit for sizes `up_to` here, or `at` this very size; a schedule has rows of one sort."""

    limit: float
    up_to: Annotated[float, Meta(gt=0)] | UnsetType = UNSET
    at: Annotated[float, Meta(gt=0)] | UnsetType = UNSET


class Dependent(Struct, frozen=True, forbid_unknown_fields=True):
    """A limit that is worked out from what else is known of the lot.

    The argument is one of `of_declared`, `of_mean`, `of_limit`. By itself with `percent` it gives that share of it. A `law`
    makes a number of it first: `reciprocal` is numerator / argument + constant, in the unit `in`; so does a `schedule`, by
    steps (`up_to`) or by straight lines between sizes (`at`). Then comes `rounding`, last `percent`.
    """

    of_declared: Name | UnsetType = UNSET
    """The declared number, in the characteristic's unit."""
    of_mean: Name | UnsetType = UNSET
    """The mean of all readings of a characteristic, in its unit."""
    of_limit: RequirementId | UnsetType = UNSET
    """The limit on the same side that another requirement comes to."""
    percent: Annotated[float, Meta(gt=0)] | UnsetType = UNSET
    law: Literal["reciprocal"] | UnsetType = UNSET
    numerator: Annotated[float, Meta(gt=0)] | UnsetType = UNSET
    constant: float | UnsetType = UNSET
    schedule: Annotated[list[Row], Meta(min_length=1, max_length=200)] | UnsetType = UNSET
    taken_in: UnitName | UnsetType = UNSET
    """The unit in which a law or a schedule takes its argument; the characteristic's own where left out."""
    in_: UnitName | UnsetType = field(default=UNSET, name="in")
    """The unit of what a law or a schedule gives, and of the rounding; that of the limited characteristic where left out."""
    rounding: Rounding | UnsetType = UNSET


Limit = float | Dependent


class Limits(Struct, frozen=True, forbid_unknown_fields=True):
    """Limits in the characteristic's unit: two sides, or a nominal with tolerances; a side left out is open.

    `lower` and `upper` include their own value, `above` and `below` exclude it.
    """

    lower: Limit | UnsetType = UNSET
    upper: Limit | UnsetType = UNSET
    above: Limit | UnsetType = UNSET
    below: Limit | UnsetType = UNSET
    nominal: float | UnsetType = UNSET
    minus: float | UnsetType = UNSET
    plus: float | UnsetType = UNSET
    tolerance: Tolerance | UnsetType = UNSET


class Outer(Struct, frozen=True, forbid_unknown_fields=True):
    """Limits that no value may be outside of; each bounds a side that `limits` bounds, from outside."""

    lower: float | UnsetType = UNSET
    upper: float | UnsetType = UNSET


class Plausible(Struct, frozen=True, forbid_unknown_fields=True):
    """Between which numbers a reading is taken as it stands, inclusive, in the characteristic's unit; one side at least.

    They are no limits of the grade: a reading outside is more likely mistyped than bad.
    """

    lower: float | UnsetType = UNSET
    upper: float | UnsetType = UNSET


class Allowed(Struct, frozen=True, forbid_unknown_fields=True):
    """How many values may be outside: `count` of them, or `percent` of those that are in, rounded down. One of the two."""

    count: Annotated[int, Meta(ge=0, le=1_000_000_000)] | UnsetType = UNSET
    percent: Annotated[float, Meta(ge=0, le=100)] | UnsetType = UNSET
