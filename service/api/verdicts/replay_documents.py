"""The document of a replay, which only HTTP has."""

from typing import Any

from msgspec import UNSET, Raw, Struct, UnsetType

from service.engine.documents import Flaw, Verdict


class EnginesShown(Struct, frozen=True):
    """The numbers of the rules by which the lot was judged, and is judged now."""

    now: str
    then: str | UnsetType = UNSET


class DifferenceShown(Struct, frozen=True):
    """One place at which the verdict that is kept and the one of now differ."""

    at: str
    """JSON Pointer into both; where lists are of different lengths it is that of the list."""
    then: Any | UnsetType = UNSET
    """What is kept; left out where nothing was there."""
    now: Any | UnsetType = UNSET
    """What it comes to now; left out where there is nothing."""


class OfReplay(Struct, frozen=True, kw_only=True):
    """What came of judging again."""

    lot: str
    number: int
    agrees: bool
    """Whether outcome, numbers, codes and pointers are the same; wording may differ."""
    differences: list[DifferenceShown]
    """At most 100."""
    more_differences: int | UnsetType = UNSET
    """How many more were found."""
    flaws: list[Flaw] | UnsetType = UNSET
    """Why what is kept as evidence can't be judged now, with pointers below /evidence; there is no verdict then."""
    engine: EnginesShown


class ReplayShown(OfReplay, frozen=True, kw_only=True):
    """A replay, with the verdict of now beside it."""

    verdict: Verdict | UnsetType = UNSET


class ReplayVerbatim(OfReplay, frozen=True, kw_only=True):
    """The same, on its way out."""

    verdict: Raw | UnsetType = UNSET
