"""What is pulled from a lot before it is tested, as the answer lists it: by requirement, characteristic or class, and stage."""

from collections.abc import Sequence

from msgspec import UNSET, Struct, UnsetType, field

from service.engine import ENGINE
from service.engine.documents.evidence import LotToDraw
from service.engine.documents.verdict import FORMAT, Numeral


class Draw(Struct, frozen=True, kw_only=True):
    """So many packages for one requirement, and what is done with them."""

    requirement: str
    kind: str
    characteristic: str | UnsetType = UNSET
    """What is measured on them."""
    class_: str | UnsetType = field(default=UNSET, name="class")
    """What is counted on them."""
    stage: int | UnsetType = UNSET
    """Only of a plan in two stages."""
    when: str | UnsetType = UNSET
    """When the second stage is drawn."""
    packages: int
    packs: int | UnsetType = UNSET
    """So many packs, where readings are of packs; `packages` is then how many are in them."""
    readings_per_package: int | UnsetType = UNSET
    readings: int | UnsetType = UNSET
    """At least so many in all."""
    accept: int | UnsetType = UNSET
    """Ac: so many at most accept; left out where this stage can't accept."""
    reject: int | UnsetType = UNSET
    """Re: so many at least reject."""
    k: Numeral | UnsetType = UNSET
    """The least quality statistic that accepts; left out where it goes by how many values two samples have together."""
    letter: str | UnsetType = UNSET
    """Of the table that the plan is from, after its arrows."""
    rule: str
    """JSON Pointer into the specification: where the sample is asked for; the requirement itself where none is."""


class Undrawn(Struct, frozen=True):
    """A requirement whose sample has no size for this lot, and why."""

    requirement: str
    code: str
    text: str
    rule: str


class ToDraw(Struct, frozen=True, kw_only=True):
    """What to pull from a lot, so that every requirement of the grade can be judged."""

    format: int = FORMAT
    engine: str = ENGINE
    grade: str | UnsetType = UNSET
    revision: int | UnsetType = UNSET
    specification: str
    lot: LotToDraw
    draws: Sequence[Draw]
    undecided: Sequence[Undrawn]
    packages: int
    """The most that a first draw needs: one pull of so many serves all of them."""
