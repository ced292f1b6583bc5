"""The evidence document: all that is known about a lot and can move its verdict; and one reading, for a check."""

from typing import Annotated, Literal

from msgspec import UNSET, Meta, Struct, UnsetType, field

from service.engine.documents.texts import (
    Code,
    Count,
    Declarable,
    Name,
    PackageId,
    RequirementId,
    RevisionNumber,
    Text,
    UnitName,
)

MOST_SERIES = 1000
MOST_DECLARED = 1000
MOST_COUNTS = 1000
MOST_DATES = 100
MOST_INSPECTIONS = 500

Whole = Annotated[int, Meta(ge=0, le=1_000_000_000)]
Stage = Annotated[int, Meta(ge=1, le=2)]
"""Of a sample that is drawn in two steps; 1 where left out."""
Inspection = Literal["normal", "tightened", "reduced"]
"""How severely the tables of sampling plans are applied; `normal` where left out."""
Remark = Literal[
    "",
    "struck",
    "confirmed",
    "broke_at_clamp",
    "broke_at_splice",
    "broke_outside_marks",
    "slipped",
    "machine_limit",
]
"""What was seen beside a reading; `""` where nothing was."""
Day = Annotated[str, Meta(pattern=r"^[0-9]{4}-[0-9]{2}-[0-9]{2}\Z")]
"""Of the local calendar."""
Calibration = Literal["overdue"]
"""How an instrument stood when it was read, where its calibration was no longer good."""


class Amount(Struct, frozen=True, forbid_unknown_fields=True):
    """A length or a mass in a unit of its own."""

    value: Annotated[float, Meta(gt=0)]
    unit: UnitName


class Uncertainty(Struct, frozen=True, forbid_unknown_fields=True):
    """An expanded uncertainty, in the characteristic's unit or in percent of the value; one of the two, and its factor.

    Source: JCGM 100:2008, 6.2: expanded uncertainty is the standard one times the coverage factor.
    """

    coverage_factor: Annotated[float, Meta(gt=0)]
    expanded: Annotated[float, Meta(ge=0)] | UnsetType = UNSET
    percent: Annotated[float, Meta(ge=0)] | UnsetType = UNSET


class InspectionOf(Struct, frozen=True, forbid_unknown_fields=True):
    """How severely the plan of one class is applied, or that of one requirement, which stands before its class."""

    inspection: Inspection
    class_: Name | UnsetType = field(default=UNSET, name="class")
    requirement: RequirementId | UnsetType = UNSET


class Lot(Struct, frozen=True, forbid_unknown_fields=True):
    """Which lot it is; where it is told, of how many packages, of what length or mass, and how severely it is inspected."""

    id: Code
    size: Count | UnsetType = UNSET
    inspection: Inspection | UnsetType = UNSET
    length: Amount | UnsetType = UNSET
    mass: Amount | UnsetType = UNSET
    inspections: Annotated[list[InspectionOf], Meta(max_length=MOST_INSPECTIONS)] | UnsetType = UNSET
    """Class by class, or requirement by requirement; the others are inspected as `inspection` says."""


class LotToDraw(Struct, frozen=True, forbid_unknown_fields=True):
    """What is told of a lot before it is tested, so far as a sample can go by it."""

    id: Code | UnsetType = UNSET
    size: Count | UnsetType = UNSET
    inspection: Inspection | UnsetType = UNSET
    length: Amount | UnsetType = UNSET
    mass: Amount | UnsetType = UNSET
    inspections: Annotated[list[InspectionOf], Meta(max_length=MOST_INSPECTIONS)] | UnsetType = UNSET
    """Class by class, or requirement by requirement; the others are inspected as `inspection` says."""


class Series(Struct, frozen=True, forbid_unknown_fields=True):
    """A column of readings in one unit; without `packages`, every reading is of a package of its own."""

    characteristic: Name
    unit: UnitName
    values: list[float]
    packages: list[PackageId] | UnsetType = UNSET
    stage: Stage | UnsetType = UNSET
    remarks: list[Remark] | UnsetType = UNSET
    """What was seen, beside each value."""
    method: Text | UnsetType = UNSET
    """By which method the readings were taken."""
    uncertainty: Uncertainty | UnsetType = UNSET
    """Of each reading."""
    packages_per_specimen: Annotated[int, Meta(ge=1, le=1000)] | UnsetType = UNSET
    """Each value is of a specimen made up of so many packages; 1 where left out."""
    calibration: Calibration | UnsetType = UNSET
    """`overdue` where the instrument was due for calibration when the readings were taken."""


class Counted(Struct, frozen=True, forbid_unknown_fields=True):
    """What was counted while packages were looked over: of a class, or of one fault."""

    class_: Name | UnsetType = field(default=UNSET, name="class")
    fault: Name | UnsetType = UNSET
    stage: Stage | UnsetType = UNSET
    inspected: Whole | UnsetType = UNSET
    """Packages looked over."""
    nonconforming: Whole | UnsetType = UNSET
    """Packages among them that do not conform."""
    occurrences: Whole | UnsetType = UNSET
    """How often it was found in all of them."""
    by_package: list[Whole] | UnsetType = UNSET
    """How often it was found in each package, in the order in which they were drawn."""
    looked_at: Amount | UnsetType = UNSET
    """The length or mass that was looked at."""


class Dated(Struct, frozen=True, forbid_unknown_fields=True):
    """The local date of something that happened to the lot."""

    event: Name
    date: Day


class DeclaredValue(Struct, frozen=True, forbid_unknown_fields=True):
    """A property that is declared, not measured."""

    characteristic: Name
    value: Declarable


class Evidence(Struct, frozen=True, forbid_unknown_fields=True):
    """All that is known about a lot. Several series of one characteristic, in different units too, add up."""

    lot: Lot
    series: Annotated[list[Series], Meta(max_length=MOST_SERIES)] | UnsetType = UNSET
    declared: Annotated[list[DeclaredValue], Meta(max_length=MOST_DECLARED)] | UnsetType = UNSET
    counts: Annotated[list[Counted], Meta(max_length=MOST_COUNTS)] | UnsetType = UNSET
    dates: Annotated[list[Dated], Meta(max_length=MOST_DATES)] | UnsetType = UNSET


class Check(Struct, frozen=True, forbid_unknown_fields=True):
    """One reading, and the grade that it is checked against."""

    grade: Code
    characteristic: Name
    unit: UnitName
    value: float
    revision: RevisionNumber | UnsetType = UNSET
    method: Text | UnsetType = UNSET
    """By which method the reading was taken."""
