"""The evidence document: all that is known about a lot and can move its verdict; and one reading, for a check."""

from typing import Annotated

from msgspec import UNSET, Meta, Struct, UnsetType

from service.engine.texts import Code, Count, Declarable, Name, PackageId, RevisionNumber, UnitName

MOST_SERIES = 1000
MOST_DECLARED = 1000


class Lot(Struct, frozen=True, forbid_unknown_fields=True):
    """Which lot it is, and of how many packages, where that is told."""

    id: Code
    size: Count | UnsetType = UNSET


class Series(Struct, frozen=True, forbid_unknown_fields=True):
    """A column of readings in one unit; without `packages`, every reading is of a package of its own."""

    characteristic: Name
    unit: UnitName
    values: list[float]
    packages: list[PackageId] | UnsetType = UNSET


class DeclaredValue(Struct, frozen=True, forbid_unknown_fields=True):
    """A property that is declared, not measured."""

    characteristic: Name
    value: Declarable


class Evidence(Struct, frozen=True, forbid_unknown_fields=True):
    """All that is known about a lot. Several series of one characteristic, in different units too, add up."""

    lot: Lot
    series: Annotated[list[Series], Meta(max_length=MOST_SERIES)] | UnsetType = UNSET
    declared: Annotated[list[DeclaredValue], Meta(max_length=MOST_DECLARED)] | UnsetType = UNSET


class Check(Struct, frozen=True, forbid_unknown_fields=True):
    """One reading, and the grade that it is checked against."""

    grade: Code
    characteristic: Name
    unit: UnitName
    value: float
    revision: RevisionNumber | UnsetType = UNSET
