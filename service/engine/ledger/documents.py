"""The documents that a lot's changes keep: opening, batches, strikes, corrections, attributes, another revision, verdicts."""

from datetime import datetime
from typing import Annotated, Literal

from msgspec import UNSET, Meta, Struct, UnsetType, field
from msgspec.structs import asdict, replace

from service.engine.documents import (
    MOST_COUNTS,
    MOST_DATES,
    MOST_DECLARED,
    MOST_SERIES,
    Amount,
    Calibration,
    Code,
    Count,
    Counted,
    Dated,
    DeclaredValue,
    Inspection,
    InspectionOf,
    LongText,
    Name,
    Outcome,
    RequirementId,
    RevisionNumber,
    Series,
    Text,
    Uncertainty,
)
from service.engine.switching import State, next_inspection

MOST_ATTRIBUTES = 100
MOST_STRUCK = 10_000
MOST_CORRECTED = 1000
"""Batches of which one correction strikes something."""
Moment = Annotated[datetime, Meta(tz=True)]
Place = Annotated[str, Meta(pattern=r"^/(series/[0-9]{1,4}/values|counts|declared|dates)/[0-9]{1,9}\Z", max_length=40)]
"""JSON Pointer into a batch: one reading, count, declaration or date of it."""


class Told(Struct, frozen=True, forbid_unknown_fields=True):
    """What is told of the lot itself."""

    size: Count | UnsetType = UNSET
    inspection: Inspection | UnsetType = UNSET
    length: Amount | UnsetType = UNSET
    mass: Amount | UnsetType = UNSET


class Attribute(Struct, frozen=True, forbid_unknown_fields=True):
    """Something of the mill's own by which the lot is found again: an order, an invoice, a bale tag."""

    name: Name
    value: Text


Attributes = Annotated[list[Attribute], Meta(max_length=MOST_ATTRIBUTES)]
Dates = Annotated[list[Dated], Meta(max_length=MOST_DATES)]


class Opening(Struct, frozen=True, forbid_unknown_fields=True):
    """By which grade a lot is judged, and what is known of it as it is opened."""

    grade: Code
    revision: RevisionNumber | UnsetType = UNSET
    """The one in force where left out; it stays the lot's, whatever is released later."""
    size: Count | UnsetType = UNSET
    inspection: Inspection | UnsetType = UNSET
    length: Amount | UnsetType = UNSET
    mass: Amount | UnsetType = UNSET
    line: Code | UnsetType = UNSET
    """The line or the supplier that it comes from."""
    resubmits: Code | UnsetType = UNSET
    """The lot that was not accepted, and is presented again as this one; what becomes of it then counts towards no switch."""
    dates: Dates | UnsetType = UNSET
    attributes: Attributes | UnsetType = UNSET

    @property
    def told(self) -> Told:
        """What is told of the lot itself."""
        return Told(self.size, self.inspection, self.length, self.mass)


class Carried(Struct, frozen=True, forbid_unknown_fields=True):
    """Where a class, or a requirement by variables, of the lot's line stood as the lot was opened."""

    state: State
    class_: Name | UnsetType = field(default=UNSET, name="class")
    requirement: RequirementId | UnsetType = UNSET

    @property
    def told(self) -> InspectionOf:
        """How the lot's evidence tells it."""
        return InspectionOf(next_inspection(self.state), class_=self.class_, requirement=self.requirement)


class CarriedOpening(Opening, frozen=True, forbid_unknown_fields=True):
    """An opening as it is kept: with the inspection that its line's history brings, where the opener told none."""

    carried: list[Carried] | UnsetType = UNSET


class AttributesAdded(Struct, frozen=True, forbid_unknown_fields=True):
    """Further attributes, under an id of the caller's own."""

    id: Code
    attributes: Annotated[list[Attribute], Meta(min_length=1, max_length=MOST_ATTRIBUTES)]


class RevisionMoved(Struct, frozen=True, forbid_unknown_fields=True):
    """The lot is to be judged by a newer revision, under an id of the caller's own, and why."""

    id: Code
    revision: RevisionNumber
    reason: LongText


class CarriedMove(RevisionMoved, frozen=True, forbid_unknown_fields=True):
    """The same as it is kept: with the inspection of the classes that the newer revision has."""

    carried: list[Carried] | UnsetType = UNSET


class Measured(Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Readings, counts, declarations and dates that came together, and how."""

    station: Text | UnsetType = UNSET
    operator: Text | UnsetType = UNSET
    instrument: Code | UnsetType = UNSET
    measured_at: Moment | UnsetType = UNSET
    lot: Told | UnsetType = UNSET
    """What is told of the lot itself; nothing that is told already is told otherwise."""
    series: Annotated[list[Series], Meta(max_length=MOST_SERIES)] | UnsetType = UNSET
    counts: Annotated[list[Counted], Meta(max_length=MOST_COUNTS)] | UnsetType = UNSET
    declared: Annotated[list[DeclaredValue], Meta(max_length=MOST_DECLARED)] | UnsetType = UNSET
    dates: Dates | UnsetType = UNSET


class Batch(Measured, frozen=True, forbid_unknown_fields=True):
    """What was measured, counted, declared and dated, under an id of the caller's own."""

    batch: Code

    @property
    def readings(self) -> int:
        """How many it brings."""
        return sum(len(each.values) for each in self.series or ())


class SeriesUncertainty(Struct, frozen=True, forbid_unknown_fields=True):
    """That of the instrument, for a series which states none."""

    series: int
    """Its number in the batch."""
    uncertainty: Uncertainty


class Marks(Struct, frozen=True, forbid_unknown_fields=True):
    """What was known of a batch's instrument when it was recorded; what is learnt of it later alters nothing here."""

    version: int
    """The number of the instrument's version."""
    calibration: Calibration | UnsetType = UNSET
    uncertainties: list[SeriesUncertainty] | UnsetType = UNSET


class MarkedBatch(Batch, frozen=True, forbid_unknown_fields=True):
    """A batch as it is kept: all that was sent, and beside it what was known of its instrument."""

    marks: Marks | UnsetType = UNSET

    @property
    def marked(self) -> list[Series]:
        """The series as they come to evidence: a mark is added, and never takes away what the caller said."""
        series = list(self.series or ())
        if isinstance(self.marks, UnsetType):
            return series
        if self.marks.calibration:
            series = [replace(each, calibration=self.marks.calibration) for each in series]
        for each in self.marks.uncertainties or ():
            series[each.series] = replace(series[each.series], uncertainty=each.uncertainty)
        return series


class Struck(Struct, frozen=True, forbid_unknown_fields=True):
    """What of a batch is struck out; it stays where it is, struck."""

    at: Annotated[list[Place], Meta(min_length=1, max_length=MOST_STRUCK)]
    of: Code | UnsetType = UNSET
    """The batch; left out, what was told as the lot was opened."""

    @property
    def batch(self) -> str:
        """Its id; "" for the opening."""
        return self.of or ""


class Strike(Struct, frozen=True, forbid_unknown_fields=True):
    """What of a batch is struck out, under an id of the caller's own, and why."""

    id: Code
    at: Annotated[list[Place], Meta(min_length=1, max_length=MOST_STRUCK)]
    reason: LongText
    of: Code | UnsetType = UNSET
    """The batch; left out, what was told as the lot was opened."""

    @property
    def struck(self) -> Struck:
        """What it strikes."""
        return Struck(self.at, self.of)


class Correction(Measured, frozen=True, forbid_unknown_fields=True):
    """What is struck out of a lot that has a verdict, and what is added to it, under an id of the caller's own, and why."""

    id: Code
    reason: LongText
    strikes: Annotated[list[Struck], Meta(min_length=1, max_length=MOST_CORRECTED)] | UnsetType = UNSET

    @property
    def added(self) -> Batch:
        """What it adds, as a batch under its id, so that a later correction can strike it."""
        return Batch(self.id, **{name: getattr(self, name) for name in Measured.__struct_fields__})


class MarkedCorrection(Correction, frozen=True, forbid_unknown_fields=True):
    """A correction as it is kept: all that was sent, and beside it what was known of its instrument."""

    marks: Marks | UnsetType = UNSET

    @property
    def added(self) -> MarkedBatch:
        """The same, with what was known of its instrument."""
        return MarkedBatch(**asdict(super().added), marks=self.marks)


class Closing(Struct, frozen=True, forbid_unknown_fields=True):
    """A lot is to be closed, and why where there is something to say."""

    reason: LongText | UnsetType = UNSET


StateAfter = Literal["waiting", "closed"]
"""What a verdict makes of a lot: `waiting` where it is undecided for want of readings."""


VerdictNumber = Annotated[int, Meta(ge=1, le=999_999_999)]


class VerdictRecord(Struct, frozen=True, kw_only=True):
    """What a lot's changes tell of a verdict; the verdict itself and its evidence are kept beside them, whole."""

    number: int
    """From 1, in the order in which the lot's verdicts were recorded."""
    outcome: Outcome
    revision: int
    """By which the lot was judged."""
    verdict: str
    """Digest of its bytes."""
    evidence: str
    """Digest of the bytes of the evidence document that was judged."""
    state: StateAfter
    """Of the lot by it."""
    reason: LongText | UnsetType = UNSET
    """Why it was recorded, where that was told."""


class Change(Struct, frozen=True, kw_only=True):
    """One change of a lot as it is kept."""

    number: int
    """From 1, without gaps."""
    at: datetime
    by: str
    kind: str
    key: str
    """The caller's own id, once in a lot."""
    digest: str
    """Of what the caller sent."""
    document: bytes
