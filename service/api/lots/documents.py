"""Documents of the ledger that only HTTP has: lots, changes, and the answers to what is recorded."""

from typing import Annotated, Any

from msgspec import UNSET, Meta, Struct, UnsetType

from service.api.moments import Moment
from service.engine.documents import Calibration, Flaw
from service.engine.ledger import Attribute, Carried, Disposing, LotOutcome, LotState, Told
from service.usecases.lots import RequirementStanding

ChangeKind = Annotated[str, Meta(pattern="^[a-z-]+$")]


class ReadingsSoFar(Struct, frozen=True):
    """How many readings of a characteristic were taken, and how many of these are struck."""

    characteristic: str
    readings: int
    struck: int


class LotSummary(Struct, frozen=True, kw_only=True):
    """A lot in a list."""

    lot: str
    grade: str
    revision: int
    state: LotState
    changes: int
    opened_at: Moment
    line: str | UnsetType = UNSET
    closed_at: Moment | UnsetType = UNSET
    outcome: LotOutcome | UnsetType = UNSET
    disposition: Disposing | UnsetType = UNSET


class LotList(Struct, frozen=True):
    """Lots in the order of their ids."""

    lots: list[LotSummary]
    next: str | UnsetType = UNSET
    """Give it as `after` to get the next ones; left out at the end."""


class LotShown(Struct, frozen=True, kw_only=True):
    """A lot as it is now."""

    lot: str
    grade: str
    revision: int
    specification: str
    """Digest of the revision's document."""
    state: LotState
    changes: int
    """How many it has had."""
    opened_at: Moment
    told: Told
    """What is told of the lot itself."""
    inspections: list[Carried] | UnsetType = UNSET
    """Where the classes of its line stood as it was opened; its evidence goes by that unless its inspection is told."""
    readings: list[ReadingsSoFar]
    attributes: list[Attribute]
    verdicts: int
    """How many were recorded of it; the newest has this number."""
    line: str | UnsetType = UNSET
    closed_at: Moment | UnsetType = UNSET
    outcome: LotOutcome | UnsetType = UNSET
    disposition: Disposing | UnsetType = UNSET
    """What is done with it by now; left out where nobody has decided."""
    is_of_earlier_verdict: bool | UnsetType = UNSET
    """Of a disposition: whether a verdict was recorded since, which nobody has decided by."""


class ChangeShown(Struct, frozen=True):
    """One change of a lot."""

    number: int
    at: Moment
    by: str
    kind: ChangeKind
    id: str
    """The caller's own; the lot's where it was opened."""
    digest: str
    """Of what the caller sent."""


class ChangeList(Struct, frozen=True):
    """Changes of a lot, the first one first."""

    lot: str
    changes: list[ChangeShown]
    next: int | UnsetType = UNSET
    """Give it as `after` to get the next ones; left out at the end."""


class BatchKept(Struct, frozen=True):
    """A batch as it is kept, in the shape in which it is shown."""

    number: int
    at: Moment
    by: str
    kind: ChangeKind
    id: str
    digest: str
    document: dict[str, Any]


class CountedOnce(Struct, frozen=True):
    """What was counted of a batch."""

    readings: int


class InstrumentSeen(Struct, frozen=True):
    """What was known of a batch's instrument when it was recorded."""

    instrument: str
    number: int
    """Of its version."""
    calibration: Calibration | UnsetType = UNSET
    """`overdue` where its calibration was no longer good on the day of the readings."""


class Recorded(Struct, frozen=True, kw_only=True):
    """What has become of a lot by what was recorded."""

    lot: str
    grade: str
    revision: int
    specification: str
    """Digest of the revision's document."""
    evidence: str
    """Digest of all that is known of the lot by now."""
    changes: int
    """How many the lot has had by now."""
    change: int
    """The number of this one."""
    batch: str | UnsetType = UNSET
    counted: CountedOnce | UnsetType = UNSET
    instrument: InstrumentSeen | UnsetType = UNSET
    """Left out where the batch names none that is registered."""
    state: LotState
    verdict: int | UnsetType = UNSET
    """The number of the one that was recorded with it, as the lot was waiting."""
    requirements: list[RequirementStanding]
    """Those whose standing has moved; where it was recorded before, all of them as they stand now."""
    flaws: list[Flaw] | UnsetType = UNSET
    """What is wrong with the lot's evidence as a whole, which no batch by itself shows; strike what is too much."""
