"""Limits and rounding as a specification states them."""

from typing import Annotated, Literal

from msgspec import UNSET, Meta, Struct, UnsetType

from service.engine.numerals import Ties

Tolerance = Literal["percent", "absolute"]
Over = Literal["readings", "packages"]
"""What counts as one value: a reading, or the mean of a package."""


class Limits(Struct, frozen=True, forbid_unknown_fields=True):
    """Inclusive limits in the characteristic's unit: two sides, or a nominal with tolerances; a side left out is open."""

    lower: float | UnsetType = UNSET
    upper: float | UnsetType = UNSET
    nominal: float | UnsetType = UNSET
    minus: float | UnsetType = UNSET
    plus: float | UnsetType = UNSET
    tolerance: Tolerance | UnsetType = UNSET


class Outer(Struct, frozen=True, forbid_unknown_fields=True):
    """Limits that no value may be outside of; each bounds a side that `limits` bounds, from outside."""

    lower: float | UnsetType = UNSET
    upper: float | UnsetType = UNSET


class Rounding(Struct, frozen=True, forbid_unknown_fields=True):
    """The value is rounded to a multiple of `step`, a tie to the even multiple or away from zero, and then compared."""

    step: Annotated[float, Meta(gt=0)]
    ties: Ties


class Allowed(Struct, frozen=True, forbid_unknown_fields=True):
    """How many values may be outside: `count` of them, or `percent` of those that are in, rounded down. One of the two."""

    count: Annotated[int, Meta(ge=0, le=1_000_000_000)] | UnsetType = UNSET
    percent: Annotated[float, Meta(ge=0, le=100)] | UnsetType = UNSET
