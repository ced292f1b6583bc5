"""The answer that lists what to draw from a lot before testing: by requirement, characteristic or class, and stage."""

from collections.abc import Sequence

from msgspec import UNSET, Struct, UnsetType, field

from service.engine import ENGINE
from service.engine.documents.evidence import LotToDraw
from service.engine.documents.verdict import FORMAT, Numeral


class Draw(Struct, frozen=True, kw_only=True):
    """The packages to draw for one requirement, and what to measure or count on them."""

    requirement: str
    kind: str
    characteristic: str | UnsetType = UNSET
    """The characteristic measured on them."""
    class_: str | UnsetType = field(default=UNSET, name="class")
    """The class of faults counted on them."""
    stage: int | UnsetType = UNSET
    """1 or 2; only for a plan in two stages."""
    when: str | UnsetType = UNSET
    """When the second stage is drawn."""
    packages: int
    packs: int | UnsetType = UNSET
    """The number of packs, where readings are of packs; `packages` then counts the packages in them."""
    readings_per_package: int | UnsetType = UNSET
    readings: int | UnsetType = UNSET
    """The least number of readings in all."""
    accept: int | UnsetType = UNSET
    """Ac, the acceptance number; left out where this stage can't accept."""
    reject: int | UnsetType = UNSET
    """Re, the rejection number."""
    k: Numeral | UnsetType = UNSET
    """The least quality statistic that accepts; left out where it depends on how many values two samples have together."""
    letter: str | UnsetType = UNSET
    """The code letter in the plan's table, after its arrows."""
    rule: str
    """JSON Pointer into the specification, to the sample; to the requirement where it has no sample."""


class Undrawn(Struct, frozen=True):
    """A requirement whose sample size can't be found for this lot, with the reason."""

    requirement: str
    code: str
    text: str
    rule: str


class ToDraw(Struct, frozen=True, kw_only=True):
    """What to draw from a lot so that every requirement of the grade can be judged."""

    format: int = FORMAT
    engine: str = ENGINE
    grade: str | UnsetType = UNSET
    revision: int | UnsetType = UNSET
    specification: str
    lot: LotToDraw
    draws: Sequence[Draw]
    undecided: Sequence[Undrawn]
    # The maximum and not the sum: one package can be measured for several requirements.
    packages: int
    """The largest first draw; drawing this many packages serves all requirements."""
