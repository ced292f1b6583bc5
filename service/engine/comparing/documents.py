"""The documents of a comparison of two parties: our side, which judged the lot, and theirs, which claims."""

from collections.abc import Sequence
from typing import NamedTuple

from msgspec import UNSET, Struct, UnsetType

from service.engine.documents import Evidence, Finding, Verdict


class Divergence(Struct, frozen=True):
    """One difference in what the two sides did or stated, independent of their results."""

    code: str
    """Stable, kebab-case: `units`, `sample-sizes`."""
    text: str
    """The difference in a sentence, for an inspector and for a lawyer."""


class Compared(Struct, frozen=True):
    """The findings on one requirement by each side's evidence, and the differences in the evidence on which they rest."""

    requirement: str
    ours: Finding
    """The finding in the lot's verdict."""
    theirs: Finding | UnsetType = UNSET
    """The finding by the other side's evidence and the same revision; left out where they gave no evidence."""
    differ: Sequence[Divergence] = ()


class Party(NamedTuple):
    """The evidence of one side, and the verdict on that evidence."""

    evidence: Evidence
    verdict: Verdict


class BothParties(NamedTuple):
    """The two sides, judged by the same revision."""

    ours: Party
    theirs: Party
