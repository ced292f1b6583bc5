"""Limits, rounding and allowances as a specification states them."""

from typing import Annotated, Literal

from msgspec import UNSET, Meta, Struct, UnsetType, field

from service.engine.documents import Name, RequirementId, UnitName
from service.engine.numbers import Ties, Toward

Tolerance = Literal["percent", "absolute"]
Over = Literal["readings", "packages"]
"""What one value is: a reading, or the mean of a package."""


class Rounding(Struct, frozen=True, forbid_unknown_fields=True):
    """Rounding to a multiple of `step`: to the nearest, with ties by `ties`; or always `toward` one side."""

    step: Annotated[float, Meta(gt=0)]
    ties: Ties | UnsetType = UNSET
    toward: Toward | UnsetType = UNSET


class Row(Struct, frozen=True, forbid_unknown_fields=True):
    """One row of a schedule: the limit for arguments `up_to` a number, or `at` it; all rows of a schedule use the same one."""

    limit: float
    up_to: Annotated[float, Meta(gt=0)] | UnsetType = UNSET
    at: Annotated[float, Meta(gt=0)] | UnsetType = UNSET


class Dependent(Struct, frozen=True, forbid_unknown_fields=True):
    """A limit that is calculated from other evidence on the lot.

    The argument is one of `of_declared`, `of_mean`, `of_limit`. A `law` or a `schedule` gives a number for it, in the unit
    `in`: the law `reciprocal` is numerator / argument + constant, a schedule goes by steps (`up_to`) or by linear
    interpolation (`at`). The number, or else the argument, is rounded by `rounding` and then multiplied by `percent`.
    """

    # Members in a fixed order and no formula language: a reviewer reads a limit off the document, and each flaw has its place.
    of_declared: Name | UnsetType = UNSET
    """The characteristic whose declared number is the argument, in its unit."""
    of_mean: Name | UnsetType = UNSET
    """The characteristic of which the mean of all readings is the argument, in its unit."""
    of_limit: RequirementId | UnsetType = UNSET
    """The requirement whose limit on the same side is the argument."""
    percent: Annotated[float, Meta(gt=0)] | UnsetType = UNSET
    law: Literal["reciprocal"] | UnsetType = UNSET
    numerator: Annotated[float, Meta(gt=0)] | UnsetType = UNSET
    constant: float | UnsetType = UNSET
    schedule: Annotated[list[Row], Meta(min_length=1, max_length=200)] | UnsetType = UNSET
    taken_in: UnitName | UnsetType = UNSET
    """The unit of the argument of a law or a schedule; the characteristic's own where left out."""
    in_: UnitName | UnsetType = field(default=UNSET, name="in")
    """The unit of the result of a law or a schedule, and of the rounding; that of the limited characteristic where left out."""
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
    """Limits that no value may be outside of; each lies outside the side of `limits` that it belongs to."""

    lower: float | UnsetType = UNSET
    upper: float | UnsetType = UNSET


class Plausible(Struct, frozen=True, forbid_unknown_fields=True):
    """The range of plausible readings, inclusive, in the characteristic's unit; at least one side.

    It is no limit of the grade: a reading outside it is more likely mistyped than bad.
    """

    # So an implausible reading leaves its requirements undecided, even where the lot would fail.
    lower: float | UnsetType = UNSET
    upper: float | UnsetType = UNSET


class Allowed(Struct, frozen=True, forbid_unknown_fields=True):
    """How many values may be outside: `count` of them, or `percent` of all values, rounded down. Give one of the two."""

    count: Annotated[int, Meta(ge=0, le=1_000_000_000)] | UnsetType = UNSET
    percent: Annotated[float, Meta(ge=0, le=100)] | UnsetType = UNSET
