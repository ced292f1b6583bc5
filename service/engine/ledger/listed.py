"""What lists show of a lot besides its row: its opening's `made` and `resubmits`, its claims, and its failed requirements."""

from datetime import datetime
from typing import NamedTuple

import msgspec
from msgspec import UNSET, Struct, UnsetType

from service.engine.documents import Day, Outcome
from service.engine.ledger.claiming import CLAIM, OF_CLAIMS, SETTLED, SETTLEMENT
from service.engine.ledger.documents import Change

MADE, OF_MADE = "made", "/made"
"""The kind of the change that records the day on which a lot was made, and the start of its key."""


class MadeOn(Struct, frozen=True):
    """The day on which a lot was made, as its opening states it."""

    # A change of its own: the release before refuses to read an opening with a member that it does not know.
    made: Day
    is_dated: bool = False
    """Whether this change puts the day into the evidence; the opening's own change does where its grade names the event."""


class ListedClaim(NamedTuple):
    """When a claim was made, and when it was settled; None while it is open."""

    at: datetime
    settled_at: datetime | None = None


class _Resubmission(Struct):
    resubmits: str | UnsetType = UNSET


class _Finding(Struct):
    requirement: str
    outcome: Outcome
    binding: bool


class _Findings(Struct):
    findings: list[_Finding]


_resubmission, made_on = msgspec.json.Decoder(_Resubmission).decode, msgspec.json.Decoder(MadeOn).decode
_findings = msgspec.json.Decoder(_Findings).decode


class Listed:
    """What lists show of a lot, after the changes added so far."""

    # The database's triggers derive the same from the same changes (migration 0009); `verify` compares both.

    def __init__(self) -> None:
        """A lot before its first change."""
        self.made: str | None = None
        self.resubmits: str | None = None
        self.claims: dict[str, ListedClaim] = {}

    def add(self, change: Change) -> None:
        """Add the next change. Raises msgspec.DecodeError where its document does not fit its kind."""
        if change.number == 1:
            self.resubmits = _resubmission(change.document).resubmits or None
        elif change.kind == MADE:
            self.made = made_on(change.document).made
        elif change.kind == CLAIM:
            self.claims[change.key.removeprefix(OF_CLAIMS)] = ListedClaim(change.at)
        elif change.kind == SETTLEMENT:
            name = change.key.removeprefix(OF_CLAIMS).removesuffix(SETTLED)
            self.claims[name] = self.claims[name]._replace(settled_at=change.at)


def failed_in(verdict: bytes) -> list[str]:
    """The ids of the binding requirements that fail in a stored verdict, sorted; none where it can't be read."""
    try:
        found = _findings(verdict).findings
    except msgspec.DecodeError:
        return []
    return sorted({each.requirement for each in found if each.binding and each.outcome is Outcome.FAIL})
