"""What others hold against a lot: claims and settlements as documents, what is wrong with a claim, and the fold over them."""

from collections.abc import Iterator, Sequence
from copy import copy
from datetime import datetime
from typing import Annotated, Literal, NamedTuple

import msgspec
from msgspec import UNSET, Meta, Struct, UnsetType, field

from service.engine.documents import Day, Evidence, Flaw, LongText, RequirementId, Text, did_you_mean, listed, quoted
from service.engine.grade import MOST_REQUIREMENTS
from service.engine.ledger.documents import Change, VerdictNumber
from service.engine.lot import day_of, no_such_day

CLAIM, SETTLEMENT = "claim", "settlement"
OF_CLAIMS, SETTLED = "/claims/", "/settled"
"""How the key of a change that tells of a claim begins, its name following; and how that of its settlement ends."""
Settling = Literal["accepted", "refused", "shared"]
MOST_LISTED = 20


class ClaimHead(Struct, frozen=True):
    """What is claimed, without the evidence, which can be long."""

    from_: Text = field(name="from")
    received_on: Day
    requirements: Annotated[list[RequirementId], Meta(min_length=1, max_length=MOST_REQUIREMENTS)]
    """Those of the grade that are said not to be met."""


class Claim(ClaimHead, frozen=True, forbid_unknown_fields=True):
    """That a lot is not what it was sold as: from whom, received when, about what, and the other side's evidence."""

    evidence: Evidence | UnsetType = UNSET


class StoredClaim(Claim, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A claim as it is kept."""

    verdict: VerdictNumber
    """The lot's newest one when it came, against which it is."""


class Settlement(Struct, frozen=True, forbid_unknown_fields=True):
    """How a claim ended, and why. It alters no verdict."""

    settlement: Settling
    reason: LongText


class _Head(ClaimHead, frozen=True, kw_only=True):
    verdict: int


class Claimed(NamedTuple):
    """A claim without its evidence, when it was recorded, and by whom."""

    head: ClaimHead
    verdict: int
    at: datetime
    by: str


class Settled(NamedTuple):
    """How a claim ended, when, and by whom that was recorded."""

    document: Settlement
    at: datetime
    by: str


class Claims:
    """The claims on a lot, by their names, and how they ended."""

    def __init__(self) -> None:
        """None yet."""
        self.known: dict[str, Claimed] = {}
        self.settled: dict[str, Settled] = {}

    def copy(self) -> "Claims":
        """Another one that can be changed for itself."""
        made = copy(self)
        made.known, made.settled = self.known.copy(), self.settled.copy()
        return made

    def claim(self, change: Change) -> None:
        """One claim more."""
        head = _head(change.document)
        self.known[change.key.removeprefix(OF_CLAIMS)] = Claimed(head, head.verdict, change.at, change.by)

    def settle(self, change: Change) -> None:
        """One that has ended."""
        name = change.key.removeprefix(OF_CLAIMS).removesuffix(SETTLED)
        self.settled[name] = Settled(_settlement(change.document), change.at, change.by)


_head = msgspec.json.Decoder(_Head).decode
_settlement = msgspec.json.Decoder(Settlement).decode


def claim_key(name: str) -> str:
    """The key of the change that tells of a claim."""
    return f"{OF_CLAIMS}{name}"


def settlement_key(name: str) -> str:
    """The key of the change that tells how a claim ended. No name has a `/` in it."""
    return f"{OF_CLAIMS}{name}{SETTLED}"


def claim_flaws(claim: ClaimHead, known: Sequence[str]) -> Iterator[Flaw]:
    """What is wrong with a claim but for its evidence.

    known  ids of the requirements of the revision that the lot was judged by
    """
    if day_of(claim.received_on) is None:
        yield no_such_day(claim.received_on, "/received_on")
    first: dict[str, int] = {}
    for number, name in enumerate(claim.requirements):
        at = f"/requirements/{number}"
        if name not in known:
            few = f" It has {listed(known, 'and')}." if len(known) <= MOST_LISTED else ""
            text = f"The grade has no requirement {quoted(name)}.{did_you_mean(name, known) or few}"
            yield Flaw("unknown-requirement", f"{text} Correct it, or take it out.", at)
        elif name in first:
            text = f"{quoted(name)} stands already at /requirements/{first[name]}. Leave one of the two."
            yield Flaw("requirement-twice", text, at)
        first.setdefault(name, number)
