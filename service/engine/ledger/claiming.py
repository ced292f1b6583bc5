"""Claims against a lot and their settlements: the documents, the flaws of a claim, and the claims after a lot's changes."""

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
"""The key of the change that records a claim is `/claims/` and its name; that of its settlement ends in `/settled`."""
Settling = Literal["accepted", "refused", "shared"]
MOST_LISTED = 20
"""Known requirements are listed in a flaw up to this number."""


class ClaimHead(Struct, frozen=True):
    """A claim without its evidence, which can be long."""

    from_: Text = field(name="from")
    received_on: Day
    requirements: Annotated[list[RequirementId], Meta(min_length=1, max_length=MOST_REQUIREMENTS)]
    """Ids of the requirements of the grade that are claimed not to be met."""


class Claim(ClaimHead, frozen=True, forbid_unknown_fields=True):
    """A claim that a lot does not conform to its grade: from whom, received when, on which requirements, and evidence."""

    evidence: Evidence | UnsetType = UNSET


class StoredClaim(Claim, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A claim as stored."""

    verdict: VerdictNumber
    """Number of the lot's newest verdict when the claim was recorded; the claim is against this one."""


class Settlement(Struct, frozen=True, forbid_unknown_fields=True):
    """How a claim was settled, and why. No verdict changes by it."""

    settlement: Settling
    reason: LongText


class _Head(ClaimHead, frozen=True, kw_only=True):
    verdict: int


class Claimed(NamedTuple):
    """A recorded claim without its evidence, with the moment and the person of the record."""

    head: ClaimHead
    verdict: int
    at: datetime
    by: str


class Settled(NamedTuple):
    """A recorded settlement, with the moment and the person of the record."""

    document: Settlement
    at: datetime
    by: str


class Claims:
    """The claims on a lot and their settlements, each by the name of the claim."""

    def __init__(self) -> None:
        """Start without claims."""
        self.known: dict[str, Claimed] = {}
        self.settled: dict[str, Settled] = {}

    def copy(self) -> "Claims":
        """A copy that can be changed without changing this one."""
        made = copy(self)
        made.known, made.settled = self.known.copy(), self.settled.copy()
        return made

    def claim(self, change: Change) -> None:
        """Add a claim."""
        # Only the head is decoded and held in memory; whoever needs the evidence reads the stored change.
        head = _head(change.document)
        self.known[change.key.removeprefix(OF_CLAIMS)] = Claimed(head, head.verdict, change.at, change.by)

    def settle(self, change: Change) -> None:
        """Add the settlement of a claim."""
        name = change.key.removeprefix(OF_CLAIMS).removesuffix(SETTLED)
        self.settled[name] = Settled(_settlement(change.document), change.at, change.by)


_head = msgspec.json.Decoder(_Head).decode
_settlement = msgspec.json.Decoder(Settlement).decode


def claim_key(name: str) -> str:
    """The key of the change that records a claim."""
    return f"{OF_CLAIMS}{name}"


def settlement_key(name: str) -> str:
    """The key of the change that records the settlement of a claim."""
    # No name contains a `/`, so it can be no key of another claim.
    return f"{OF_CLAIMS}{name}{SETTLED}"


def claim_flaws(claim: ClaimHead, known: Sequence[str]) -> Iterator[Flaw]:
    """The flaws of a claim, those of its evidence excepted.

    known  ids of the requirements of the revision by which the lot was judged
    """
    if day_of(claim.received_on) is None:
        yield no_such_day(claim.received_on, "/received_on")
    first: dict[str, int] = {}
    for number, name in enumerate(claim.requirements):
        at = f"/requirements/{number}"
        if name not in known:
            few = f" It has {listed(known, 'and')}." if len(known) <= MOST_LISTED else ""
            text = f"The grade has no requirement {quoted(name)}.{did_you_mean(name, known) or few}"
            yield Flaw("unknown-requirement", f"{text} Correct it, or remove it.", at)
        elif name in first:
            text = f"{quoted(name)} is already at /requirements/{first[name]}. Remove one of the two."
            yield Flaw("requirement-twice", text, at)
        first.setdefault(name, number)
