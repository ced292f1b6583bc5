"""The documents of a lot's changes: opening, batches, strikes, corrections, attributes, another revision, verdicts."""

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
    Day,
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
"""The most batches of which one correction can strike items."""
Moment = Annotated[datetime, Meta(tz=True)]
Place = Annotated[str, Meta(pattern=r"^/(series/[0-9]{1,4}/values|counts|declared|dates)/[0-9]{1,9}\Z", max_length=40)]
"""JSON Pointer into a batch, to one reading, count, declaration or date."""


class Told(Struct, frozen=True, forbid_unknown_fields=True):
    """What is stated of the lot itself."""

    size: Count | UnsetType = UNSET
    inspection: Inspection | UnsetType = UNSET
    length: Amount | UnsetType = UNSET
    mass: Amount | UnsetType = UNSET


class Attribute(Struct, frozen=True, forbid_unknown_fields=True):
    """A name and value by which the lot can be searched: an order, an invoice, a bale tag."""

    name: Name
    value: Text


Attributes = Annotated[list[Attribute], Meta(max_length=MOST_ATTRIBUTES)]
Dates = Annotated[list[Dated], Meta(max_length=MOST_DATES)]


class Opening(Struct, frozen=True, forbid_unknown_fields=True):
    """The opening of a lot: the grade by which it is judged, and what is stated of it."""

    grade: Code
    revision: RevisionNumber | UnsetType = UNSET
    """If left out, the revision in force; the lot keeps it, whichever is released later."""
    size: Count | UnsetType = UNSET
    inspection: Inspection | UnsetType = UNSET
    length: Amount | UnsetType = UNSET
    mass: Amount | UnsetType = UNSET
    line: Code | UnsetType = UNSET
    """The production line or the supplier from which the lot comes."""
    resubmits: Code | UnsetType = UNSET
    """The lot that was not accepted and is resubmitted as this one; the result counts towards no switch of inspection."""
    dates: Dates | UnsetType = UNSET
    attributes: Attributes | UnsetType = UNSET
    made: Day | UnsetType = UNSET
    """The day on which the lot was made; it enters the evidence as the date of the event `made` where the grade names that."""

    @property
    def told(self) -> Told:
        """The members that state something of the lot itself."""
        return Told(self.size, self.inspection, self.length, self.mass)


class Carried(Struct, frozen=True, forbid_unknown_fields=True):
    """The inspection state of a class, or of a requirement by variables, of the lot's line when the lot was opened."""

    state: State
    class_: Name | UnsetType = field(default=UNSET, name="class")
    requirement: RequirementId | UnsetType = UNSET

    @property
    def inspection_of(self) -> InspectionOf:
        """The inspection that follows from the state, as the lot's evidence states it."""
        return InspectionOf(next_inspection(self.state), class_=self.class_, requirement=self.requirement)


class CarriedOpening(Opening, frozen=True, forbid_unknown_fields=True):
    """An opening as stored, with the inspection that follows from its line's history where the opener stated none."""

    # Stored with the opening, since results that arrive later must not change how the lot was inspected.
    carried: list[Carried] | UnsetType = UNSET


class AttributesAdded(Struct, frozen=True, forbid_unknown_fields=True):
    """Further attributes, under an id that the caller chooses."""

    id: Code
    attributes: Annotated[list[Attribute], Meta(min_length=1, max_length=MOST_ATTRIBUTES)]


class RevisionMoved(Struct, frozen=True, forbid_unknown_fields=True):
    """A change to a newer revision, by which the lot is then judged, and why, under an id that the caller chooses."""

    id: Code
    revision: RevisionNumber
    reason: LongText


class CarriedMove(RevisionMoved, frozen=True, forbid_unknown_fields=True):
    """A change of revision as stored, with the inspection of the classes that the newer revision has."""

    carried: list[Carried] | UnsetType = UNSET


class Measured(Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Readings, counts, declarations and dates sent together, and how they were measured."""

    station: Text | UnsetType = UNSET
    operator: Text | UnsetType = UNSET
    instrument: Code | UnsetType = UNSET
    measured_at: Moment | UnsetType = UNSET
    lot: Told | UnsetType = UNSET
    """What is stated of the lot itself; a batch cannot change what was stated before."""
    series: Annotated[list[Series], Meta(max_length=MOST_SERIES)] | UnsetType = UNSET
    counts: Annotated[list[Counted], Meta(max_length=MOST_COUNTS)] | UnsetType = UNSET
    declared: Annotated[list[DeclaredValue], Meta(max_length=MOST_DECLARED)] | UnsetType = UNSET
    dates: Dates | UnsetType = UNSET


class Batch(Measured, frozen=True, forbid_unknown_fields=True):
    """Measured, counted, declared and dated items, under an id that the caller chooses."""

    batch: Code

    @property
    def readings(self) -> int:
        """Number of readings in the batch."""
        return sum(len(each.values) for each in self.series or ())


class SeriesUncertainty(Struct, frozen=True, forbid_unknown_fields=True):
    """The instrument's uncertainty, for a series that states none."""

    series: int
    """Index of the series in the batch, from 0."""
    uncertainty: Uncertainty


class Marks(Struct, frozen=True, forbid_unknown_fields=True):
    """What was known of a batch's instrument when the batch was recorded; later versions of the instrument change nothing."""

    version: int
    """Number of the instrument's version."""
    calibration: Calibration | UnsetType = UNSET
    uncertainties: list[SeriesUncertainty] | UnsetType = UNSET


class MarkedBatch(Batch, frozen=True, forbid_unknown_fields=True):
    """A batch as stored: everything that was sent, and what was known of its instrument."""

    # Beside what was sent, not within it: the digest by which a repeated batch is recognised is that of what was sent.
    marks: Marks | UnsetType = UNSET

    @property
    def series_with_marks(self) -> list[Series]:
        """The series as the evidence has them: marks add to what the caller stated and replace none of it."""
        series = list(self.series or ())
        if isinstance(self.marks, UnsetType):
            return series
        if self.marks.calibration:
            series = [replace(each, calibration=self.marks.calibration) for each in series]
        for marked in self.marks.uncertainties or ():
            series[marked.series] = replace(series[marked.series], uncertainty=marked.uncertainty)
        return series


class Struck(Struct, frozen=True, forbid_unknown_fields=True):
    """Items of a batch to strike; they remain stored, marked as struck."""

    at: Annotated[list[Place], Meta(min_length=1, max_length=MOST_STRUCK)]
    of: Code | UnsetType = UNSET
    """Id of the batch; if left out, the items are those of the opening."""

    @property
    def batch(self) -> str:
        """Id of the batch; "" for the opening."""
        return self.of or ""


class Strike(Struct, frozen=True, forbid_unknown_fields=True):
    """Items of a batch to strike, and why, under an id that the caller chooses."""

    id: Code
    at: Annotated[list[Place], Meta(min_length=1, max_length=MOST_STRUCK)]
    reason: LongText
    of: Code | UnsetType = UNSET
    """Id of the batch; if left out, the items are those of the opening."""

    @property
    def struck(self) -> Struck:
        """The struck items, without id and reason."""
        return Struck(self.at, self.of)


class Correction(Measured, frozen=True, forbid_unknown_fields=True):
    """Items struck from a lot that has a verdict, items added to it, and why, under an id that the caller chooses."""

    # Both in one change: at no moment is a replaced reading in the evidence twice, or not at all.

    id: Code
    reason: LongText
    strikes: Annotated[list[Struck], Meta(min_length=1, max_length=MOST_CORRECTED)] | UnsetType = UNSET

    @property
    def added(self) -> Batch:
        """The added items as a batch under the correction's id, so that a later correction can strike them."""
        return Batch(self.id, **{name: getattr(self, name) for name in Measured.__struct_fields__})


class MarkedCorrection(Correction, frozen=True, forbid_unknown_fields=True):
    """A correction as stored: everything that was sent, and what was known of its instrument."""

    marks: Marks | UnsetType = UNSET

    @property
    def added(self) -> MarkedBatch:
        """The added items as a batch, with what was known of its instrument."""
        return MarkedBatch(**asdict(super().added), marks=self.marks)


class Closing(Struct, frozen=True, forbid_unknown_fields=True):
    """A request to close a lot, with an optional reason."""

    reason: LongText | UnsetType = UNSET


StateAfter = Literal["waiting", "closed"]
"""The state of a lot after a verdict: `waiting` where it is undecided because readings are missing."""


VerdictNumber = Annotated[int, Meta(ge=1, le=999_999_999)]


class VerdictRecord(Struct, frozen=True, kw_only=True):
    """The change that records a verdict; the verdict itself and its evidence are stored beside the changes, whole."""

    number: int
    """From 1, in the order in which the lot's verdicts were recorded."""
    outcome: Outcome
    revision: int
    """The revision of the grade by which the lot was judged."""
    verdict: str
    """Digest of the bytes of the verdict document."""
    evidence: str
    """Digest of the bytes of the evidence document that was judged."""
    state: StateAfter
    """State of the lot after the verdict."""
    reason: LongText | UnsetType = UNSET
    """Why the verdict was recorded, where a reason was given."""


class Change(Struct, frozen=True, kw_only=True):
    """One change of a lot as stored."""

    number: int
    """From 1 in each lot, without gaps."""
    at: datetime
    by: str
    kind: str
    key: str
    """The id that the caller chose, or one made here that begins with `/`; unique in the lot."""
    digest: str
    """Digest of what the caller sent; a repeated request is recognised by it."""
    document: bytes
