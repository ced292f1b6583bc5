"""The evidence document, with everything about a lot that can change its verdict, and one reading for a check."""

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

# Lists of objects are bounded by the schema. Readings are not: a request's bound on them is a setting of the service.
MOST_SERIES = 1000
MOST_DECLARED = 1000
MOST_COUNTS = 1000
MOST_DATES = 100
MOST_INSPECTIONS = 500

Whole = Annotated[int, Meta(ge=0, le=1_000_000_000)]
Stage = Annotated[int, Meta(ge=1, le=2)]
"""The stage of a sample that is drawn in two; 1 where left out."""
Inspection = Literal["normal", "tightened", "reduced"]
"""The severity at which tables of sampling plans are used; `normal` where left out."""
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
"""What the operator noted on a reading; `""` where nothing was noted."""
Day = Annotated[str, Meta(pattern=r"^[0-9]{4}-[0-9]{2}-[0-9]{2}\Z")]
"""A date of the local calendar, YYYY-MM-DD."""
Calibration = Literal["overdue"]
"""The state of the instrument when it was read, where its calibration had expired."""


class Amount(Struct, frozen=True, forbid_unknown_fields=True):
    """A length or a mass with its unit."""

    value: Annotated[float, Meta(gt=0)]
    unit: UnitName


class Uncertainty(Struct, frozen=True, forbid_unknown_fields=True):
    """An expanded uncertainty: `expanded` in the characteristic's unit or `percent` of the value, with the coverage factor.

    Exactly one of the two is given. Source: JCGM 100:2008, 6.2: it is the standard uncertainty times the coverage factor.
    """

    coverage_factor: Annotated[float, Meta(gt=0)]
    expanded: Annotated[float, Meta(ge=0)] | UnsetType = UNSET
    percent: Annotated[float, Meta(ge=0)] | UnsetType = UNSET


class InspectionOf(Struct, frozen=True, forbid_unknown_fields=True):
    """The severity of inspection for one class, or for one requirement, which takes precedence over its class."""

    inspection: Inspection
    class_: Name | UnsetType = field(default=UNSET, name="class")
    requirement: RequirementId | UnsetType = UNSET


class Lot(Struct, frozen=True, forbid_unknown_fields=True):
    """The lot: its id and, where known, its size in packages, its length or mass, and the severity of its inspection."""

    id: Code
    size: Count | UnsetType = UNSET
    inspection: Inspection | UnsetType = UNSET
    length: Amount | UnsetType = UNSET
    mass: Amount | UnsetType = UNSET
    inspections: Annotated[list[InspectionOf], Meta(max_length=MOST_INSPECTIONS)] | UnsetType = UNSET
    """Severities by class or by requirement; `inspection` holds for all others."""


class LotToDraw(Struct, frozen=True, forbid_unknown_fields=True):
    """What is known of a lot before it is tested and can change the size of a sample."""

    id: Code | UnsetType = UNSET
    size: Count | UnsetType = UNSET
    inspection: Inspection | UnsetType = UNSET
    length: Amount | UnsetType = UNSET
    mass: Amount | UnsetType = UNSET
    inspections: Annotated[list[InspectionOf], Meta(max_length=MOST_INSPECTIONS)] | UnsetType = UNSET
    """Severities by class or by requirement; `inspection` holds for all others."""


class Series(Struct, frozen=True, forbid_unknown_fields=True):
    """A column of readings in one unit; without `packages`, every reading is of a different package."""

    characteristic: Name
    unit: UnitName
    # No constraint on an item: msgspec would check each of 100,000, while the extremes of positive values tell their range.
    values: list[float]
    packages: list[PackageId] | UnsetType = UNSET
    stage: Stage | UnsetType = UNSET
    remarks: list[Remark] | UnsetType = UNSET
    """One for each value."""
    method: Text | UnsetType = UNSET
    """The method by which the readings were taken."""
    uncertainty: Uncertainty | UnsetType = UNSET
    """The uncertainty of each reading."""
    packages_per_specimen: Annotated[int, Meta(ge=1, le=1000)] | UnsetType = UNSET
    """How many packages each value's specimen is made up of; 1 where left out."""
    calibration: Calibration | UnsetType = UNSET
    """`overdue` where the instrument was due for calibration when the readings were taken."""


class Counted(Struct, frozen=True, forbid_unknown_fields=True):
    """What was counted when packages were inspected: a class of faults, or one fault."""

    class_: Name | UnsetType = field(default=UNSET, name="class")
    fault: Name | UnsetType = UNSET
    stage: Stage | UnsetType = UNSET
    inspected: Whole | UnsetType = UNSET
    """How many packages were inspected."""
    nonconforming: Whole | UnsetType = UNSET
    """How many of them do not conform."""
    occurrences: Whole | UnsetType = UNSET
    """How often it was found in all inspected packages."""
    by_package: list[Whole] | UnsetType = UNSET
    """How often it was found in each package, in the order drawn."""
    looked_at: Amount | UnsetType = UNSET
    """The length or mass that was inspected."""


class Dated(Struct, frozen=True, forbid_unknown_fields=True):
    """The local date of something that happened to the lot."""

    event: Name
    date: Day


class DeclaredValue(Struct, frozen=True, forbid_unknown_fields=True):
    """A property that the supplier declares, not a measured one."""

    characteristic: Name
    value: Declarable


class Evidence(Struct, frozen=True, forbid_unknown_fields=True):
    """All that is known about a lot. Several series of one characteristic are pooled, in different units too."""

    lot: Lot
    series: Annotated[list[Series], Meta(max_length=MOST_SERIES)] | UnsetType = UNSET
    declared: Annotated[list[DeclaredValue], Meta(max_length=MOST_DECLARED)] | UnsetType = UNSET
    counts: Annotated[list[Counted], Meta(max_length=MOST_COUNTS)] | UnsetType = UNSET
    dates: Annotated[list[Dated], Meta(max_length=MOST_DATES)] | UnsetType = UNSET


class Check(Struct, frozen=True, forbid_unknown_fields=True):
    """One reading to check against a grade."""

    grade: Code
    characteristic: Name
    unit: UnitName
    value: float
    revision: RevisionNumber | UnsetType = UNSET
    method: Text | UnsetType = UNSET
    """The method by which the reading was taken."""
