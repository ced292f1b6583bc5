"""Documents about lots that only the HTTP layer has: lots, changes, and the answers to recorded batches."""

from typing import Annotated, Any

from msgspec import UNSET, Meta, Struct, UnsetType

from service.api.moments import Moment
from service.engine.documents import Calibration, Day, Flaw, RequirementId
from service.engine.ledger import Attribute, Carried, Disposing, LotOutcome, LotState, Told
from service.usecases.lots import RequirementStanding

ChangeKind = Annotated[str, Meta(pattern="^[a-z-]+$")]


class ReadingsSoFar(Struct, frozen=True):
    """The number of recorded readings of a characteristic, and how many of these are struck."""

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
    failed: list[RequirementId] | UnsetType = UNSET
    """The binding requirements that failed in the newest verdict; left out before the first one."""
    claims: int
    """Number of claims on the lot that are not settled."""
    resubmits: str | UnsetType = UNSET
    """The lot that was not accepted and is resubmitted as this one."""
    made: Day | UnsetType = UNSET
    """The day on which the lot was made."""


class LotList(Struct, frozen=True):
    """Lots in the order of the query."""

    lots: list[LotSummary]
    next: str | UnsetType = UNSET
    """Send it as `after` to get the next page; left out on the last page."""


class LotShown(Struct, frozen=True, kw_only=True):
    """A lot as it is now."""

    lot: str
    grade: str
    revision: int
    specification: str
    """Digest of the revision's document."""
    state: LotState
    changes: int
    """Number of changes recorded so far."""
    opened_at: Moment
    told: Told
    """What was stated of the lot itself."""
    inspections: list[Carried] | UnsetType = UNSET
    """Switching states of the classes of its line at its opening; its evidence uses them unless an inspection is stated."""
    readings: list[ReadingsSoFar]
    attributes: list[Attribute]
    verdicts: int
    """Number of verdicts recorded; also the number of the newest one."""
    line: str | UnsetType = UNSET
    closed_at: Moment | UnsetType = UNSET
    outcome: LotOutcome | UnsetType = UNSET
    disposition: Disposing | UnsetType = UNSET
    """The current disposition; left out where nobody has decided."""
    is_of_earlier_verdict: bool | UnsetType = UNSET
    """Whether a verdict was recorded after the disposition, so that nobody has decided by it yet."""
    resubmits: str | UnsetType = UNSET
    """The lot that was not accepted and is resubmitted as this one."""
    made: Day | UnsetType = UNSET
    """The day on which the lot was made."""


class ChangeShown(Struct, frozen=True):
    """One change of a lot."""

    number: int
    at: Moment
    by: str
    kind: ChangeKind
    id: str
    """The caller's id of the change; the lot's id for its opening."""
    digest: str
    """Digest of what the caller sent."""


class ChangeList(Struct, frozen=True):
    """Changes of a lot, the oldest first."""

    lot: str
    changes: list[ChangeShown]
    next: int | UnsetType = UNSET
    """Send it as `after` to get the next page; left out on the last page."""


class BatchKept(Struct, frozen=True):
    """A batch as it is stored, with its change."""

    number: int
    at: Moment
    by: str
    kind: ChangeKind
    id: str
    digest: str
    document: dict[str, Any]


class CountedOnce(Struct, frozen=True):
    """The number of readings counted for a batch."""

    readings: int


class InstrumentSeen(Struct, frozen=True):
    """What was known of a batch's instrument when it was recorded."""

    instrument: str
    number: int
    """Number of the instrument's version."""
    calibration: Calibration | UnsetType = UNSET
    """`overdue` where its calibration had expired on the day of the readings."""


class Recorded(Struct, frozen=True, kw_only=True):
    """The state of a lot after a batch or strike was recorded."""

    lot: str
    grade: str
    revision: int
    specification: str
    """Digest of the revision's document."""
    evidence: str
    """Digest of the lot's evidence so far."""
    changes: int
    """Number of changes of the lot so far."""
    change: int
    """Number of this change."""
    batch: str | UnsetType = UNSET
    counted: CountedOnce | UnsetType = UNSET
    instrument: InstrumentSeen | UnsetType = UNSET
    """Left out where the batch names no registered instrument."""
    state: LotState
    verdict: int | UnsetType = UNSET
    """Number of the verdict recorded together with it, where the lot was waiting."""
    requirements: list[RequirementStanding]
    """Requirements whose standing has changed; all of them, as they are now, where the same was recorded before."""
    flaws: list[Flaw] | UnsetType = UNSET
    """Flaws of the lot's evidence as a whole, which no single batch has; strike what is too much."""
