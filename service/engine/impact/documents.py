"""The lines of an answer on impact: progress, each lot whose outcome would change, and a summary."""

from msgspec import UNSET, Struct, UnsetType

from service.engine.documents import Flaw, Outcome


class ImpactProgress(Struct, frozen=True, kw_only=True, tag="progress", tag_field="kind"):
    """Progress of judging lots again."""

    judged: int
    of: int
    """Number of lots to judge, counted at the start."""
    changed: int
    """Number of changed lots among those judged so far."""


class RequirementImpact(Struct, frozen=True, kw_only=True):
    """A requirement whose outcome or binding would change, or that only one of verdict and revision has."""

    requirement: str
    then: Outcome | UnsetType = UNSET
    """Outcome in the lot's verdict; left out where that has no such requirement."""
    now: Outcome | UnsetType = UNSET
    """Outcome by the revision; left out where that has no such requirement."""
    binding_then: bool | UnsetType = UNSET
    """Whether the requirement was binding; both members on binding are given only where they differ."""
    binding_now: bool | UnsetType = UNSET


class LotImpact(Struct, frozen=True, kw_only=True, tag="lot", tag_field="kind"):
    """A lot that the revision would change."""

    lot: str
    verdict: int
    """Number of the lot's newest verdict, with which the new one is compared."""
    then: Outcome
    now: Outcome | UnsetType = UNSET
    """Outcome by the revision; left out where it cannot judge the evidence, and `flaws` say why."""
    requirements: list[RequirementImpact] | UnsetType = UNSET
    """In the order of the revision, then those that only the verdict has."""
    flaws: list[Flaw] | UnsetType = UNSET
    """At most ten, with pointers into the evidence."""
    more_flaws: int | UnsetType = UNSET
    """Number of further flaws that were found."""


class LotCount(Struct, frozen=True, kw_only=True):
    """Number of lots with one pair of outcomes, then and now."""

    then: Outcome | UnsetType = UNSET
    now: Outcome | UnsetType = UNSET
    lots: int


class RequirementCounts(Struct, frozen=True, kw_only=True):
    """Outcomes of one requirement over lots; `then` or `now` is left out where that side has no such requirement."""

    requirement: str
    outcomes: list[LotCount]


class Interruption(Struct, frozen=True):
    """The reason for which not all lots were judged."""

    code: str
    text: str


class ImpactSummary(Struct, frozen=True, kw_only=True, tag="summary", tag_field="kind"):
    """The last line: the counts over all lots that were judged, and the error if these are not all."""

    grade: str
    revision: int
    specification: str
    """Digest of the revision's specification."""
    judged: int
    of: int
    changed: int
    """Number of lots that the revision would change, including those that it cannot judge."""
    flawed: int
    """Number of lots whose evidence the revision cannot judge; they are not in the counts below."""
    outcomes: list[LotCount]
    """Counts of lots by outcome then and now, including unchanged ones."""
    requirements: list[RequirementCounts]
    error: Interruption | UnsetType = UNSET
    """Given only where judging was interrupted; the counts are then of the lots judged until then."""


ImpactLine = ImpactProgress | LotImpact | ImpactSummary
"""One line of the answer."""
