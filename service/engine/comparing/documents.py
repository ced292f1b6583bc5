"""What a comparison of two sides is made of."""

from collections.abc import Sequence
from typing import NamedTuple

from msgspec import UNSET, Struct, UnsetType

from service.engine.documents import Evidence, Finding, Verdict


class Divergence(Struct, frozen=True):
    """One way in which what the other side did differs from what we did, whatever it came to."""

    code: str
    """Stable, kebab-case: `units`, `sample-sizes`."""
    text: str
    """In a sentence, for an inspector and a lawyer alike."""


class Compared(Struct, frozen=True):
    """A requirement by both sides' evidence, and how these differ in what it rests on."""

    requirement: str
    ours: Finding
    """As it stands in the lot's verdict."""
    theirs: Finding | UnsetType = UNSET
    """By the other side's evidence and the same revision; left out where they gave none."""
    differ: Sequence[Divergence] = ()


class Party(NamedTuple):
    """The evidence of one side, and the verdict on it."""

    evidence: Evidence
    verdict: Verdict


class BothParties(NamedTuple):
    """Both."""

    ours: Party
    theirs: Party
