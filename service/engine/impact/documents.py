"""What is told of lots that are judged again: how far it has come, each lot that comes out otherwise, and the sum of it."""

from msgspec import UNSET, Struct, UnsetType

from service.engine.documents import Flaw, Outcome


class ImpactProgress(Struct, frozen=True, kw_only=True, tag="progress", tag_field="kind"):
    """How far it has come."""

    judged: int
    of: int
    """How many there were to judge when it began."""
    changed: int
    """Of those judged so far."""


class RequirementImpact(Struct, frozen=True, kw_only=True):
    """A requirement that comes out otherwise, or binds otherwise, or that only one side has."""

    requirement: str
    then: Outcome | UnsetType = UNSET
    """Left out where the lot's verdict has no such requirement."""
    now: Outcome | UnsetType = UNSET
    """Left out where the revision has none."""
    binding_then: bool | UnsetType = UNSET
    """Whether it bound and whether it would, both only where they differ."""
    binding_now: bool | UnsetType = UNSET


class LotImpact(Struct, frozen=True, kw_only=True, tag="lot", tag_field="kind"):
    """A lot that would come out otherwise."""

    lot: str
    verdict: int
    """The number of its newest verdict, which it is compared with."""
    then: Outcome
    now: Outcome | UnsetType = UNSET
    """Left out where the revision can't judge the evidence; `flaws` then say why."""
    requirements: list[RequirementImpact] | UnsetType = UNSET
    """In the revision's order, then those that it has not."""
    flaws: list[Flaw] | UnsetType = UNSET
    """At most ten, with pointers into the evidence."""
    more_flaws: int | UnsetType = UNSET
    """How many more were found."""


class LotCount(Struct, frozen=True, kw_only=True):
    """So many lots went from one outcome to another, or stayed."""

    then: Outcome | UnsetType = UNSET
    now: Outcome | UnsetType = UNSET
    lots: int


class RequirementCounts(Struct, frozen=True, kw_only=True):
    """What becomes of one requirement; a side that hasn't got it is left out."""

    requirement: str
    outcomes: list[LotCount]


class Interruption(Struct, frozen=True):
    """Why not all lots were judged."""

    code: str
    text: str


class ImpactSummary(Struct, frozen=True, kw_only=True, tag="summary", tag_field="kind"):
    """The last line: what all lots that were judged come to, and whether these are all."""

    grade: str
    revision: int
    specification: str
    """Digest of the document that judged."""
    judged: int
    of: int
    changed: int
    """Lots that would come out otherwise, those that can't be judged among them."""
    flawed: int
    """Lots whose evidence the revision can't judge; they are not in the counts below."""
    outcomes: list[LotCount]
    """Of the lots, those that stay among them."""
    requirements: list[RequirementCounts]
    error: Interruption | UnsetType = UNSET
    """Only where it was broken off: all else is then of the lots that were judged."""


ImpactLine = ImpactProgress | LotImpact | ImpactSummary
"""One line of the answer."""
