"""The document of a replay, which only the HTTP layer has."""

from typing import Any

from msgspec import UNSET, Raw, Struct, UnsetType

from service.engine.documents import Flaw, Verdict


class EnginesShown(Struct, frozen=True):
    """The engine numbers by which the lot was judged then and is judged now."""

    now: str
    then: str | UnsetType = UNSET


class DifferenceShown(Struct, frozen=True):
    """One place where the stored verdict and the new one differ."""

    at: str
    """JSON Pointer into both; for lists of different lengths that of the list."""
    then: Any | UnsetType = UNSET
    """The stored value; left out where there is none."""
    now: Any | UnsetType = UNSET
    """The new value; left out where there is none."""


class OfReplay(Struct, frozen=True, kw_only=True):
    """The result of a replay, without the new verdict."""

    lot: str
    number: int
    agrees: bool
    """True where outcome, numbers, codes and pointers are the same; wording may differ."""
    differences: list[DifferenceShown]
    """At most 100."""
    more_differences: int | UnsetType = UNSET
    """The number of differences beyond these."""
    flaws: list[Flaw] | UnsetType = UNSET
    """Why the stored evidence can't be judged now, with pointers below /evidence; there is no new verdict then."""
    engine: EnginesShown


class ReplayShown(OfReplay, frozen=True, kw_only=True):
    """A replay with the new verdict."""

    verdict: Verdict | UnsetType = UNSET


class ReplayVerbatim(OfReplay, frozen=True, kw_only=True):
    """ReplayShown for sending: the verdict as encoded bytes."""

    verdict: Raw | UnsetType = UNSET
