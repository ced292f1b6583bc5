"""Documents that only HTTP has: what lists and small requests look like on the wire."""

from datetime import datetime
from typing import Annotated, Literal

from msgspec import UNSET, Meta, Raw, Struct, UnsetType

from service.engine.faults import Fault
from service.engine.texts import Code, LongText, Name, RevisionNumber, Text, UnitName
from service.engine.vocabulary import Quantity
from service.ports import Scope

State = Literal["draft", "released", "withdrawn"]
Moment = Annotated[datetime, Meta(tz=True)]


class Envelope(Struct, frozen=True):
    """A revision apart from its document: its state, its moments, its digest."""

    grade: str
    revision: int
    state: State
    specification: str
    """Digest of the document, `sha256:…`."""
    created_at: Moment
    effective_from: Moment | UnsetType = UNSET
    """From when on it is in force, if it is released."""
    released_at: Moment | UnsetType = UNSET
    withdrawn_at: Moment | UnsetType = UNSET
    reason: str | UnsetType = UNSET
    """Why it was withdrawn."""
    author: str | UnsetType = UNSET
    """Who wrote its document last, where that is known."""
    released_by: str | UnsetType = UNSET
    withdrawn_by: str | UnsetType = UNSET


class ReadingToCheck(Struct, frozen=True, forbid_unknown_fields=True):
    """One reading, and the grade that it is checked against, or the lot that it is of."""

    characteristic: Name
    unit: UnitName
    value: float
    grade: Code | UnsetType = UNSET
    revision: RevisionNumber | UnsetType = UNSET
    lot: Code | UnsetType = UNSET
    """An open lot or one that was: its own revision judges, and what is outside in it already counts."""
    method: Text | UnsetType = UNSET
    """By which method the reading was taken."""


class GradeSummary(Struct, frozen=True):
    """A grade in a list."""

    grade: str
    revisions: int
    """How many it has."""


class GradeList(Struct, frozen=True):
    """Grades in the order of their codes."""

    grades: list[GradeSummary]
    next: str | UnsetType = UNSET
    """Give it as `after` to get the next ones; left out at the end."""


class GradeShown(Struct, frozen=True):
    """A grade with its revisions, the first one first."""

    grade: str
    revisions: list[Envelope]
    next: int | UnsetType = UNSET
    """Give it as `after` to get the next ones; left out at the end."""


class Release(Struct, frozen=True, forbid_unknown_fields=True):
    """From when on a revision is to be in force; from now on where it is left out."""

    effective_from: Moment | UnsetType = UNSET


class Withdrawal(Struct, frozen=True, forbid_unknown_fields=True):
    """Why a revision is withdrawn."""

    reason: LongText


KeyBeginning = Annotated[str, Meta(pattern=r"^mky_[0-9a-f]{8}\Z", max_length=12)]


class KeyShown(Struct, frozen=True):
    """A key without what is secret of it."""

    key: KeyBeginning
    """The beginning by which it is recognised."""
    name: str
    """Whose it is; one person may have several."""
    scopes: list[Scope]
    added_at: Moment
    expires_at: Moment | UnsetType = UNSET
    revoked_at: Moment | UnsetType = UNSET
    reason: str | UnsetType = UNSET
    """Why it was revoked."""
    used_at: Moment | UnsetType = UNSET
    """When it was last used, to the minute or so; left out where it never was."""


class KeyList(Struct, frozen=True):
    """Keys in the order of their beginnings."""

    keys: list[KeyShown]
    next: str | UnsetType = UNSET
    """Give it as `after` to get the next ones; left out at the end."""


class Revocation(Struct, frozen=True, forbid_unknown_fields=True):
    """Why a key is revoked."""

    reason: LongText


class CharacteristicShown(Struct, frozen=True):
    """A name of the vocabulary."""

    name: str
    quantity: Quantity
    meaning: str
    units: list[str]
    """In which its limits may be stated."""
    reading_units: list[str]
    """In which readings may come besides, being of the reciprocal quantity."""


class CharacteristicList(Struct, frozen=True):
    """The vocabulary."""

    characteristics: list[CharacteristicShown]


class FaultList(Struct, frozen=True):
    """The vocabulary of faults."""

    faults: list[Fault]


class UnitShown(Struct, frozen=True):
    """A unit by all the words that name it."""

    symbol: str
    name: str
    quantity: Quantity
    numerator: str
    """With `denominator`, the exact factor to the SI unit of the quantity, in digits."""
    denominator: str
    ucum: str | UnsetType = UNSET
    rec20: list[str] | UnsetType = UNSET


class UnitList(Struct, frozen=True):
    """The closed table of units."""

    units: list[UnitShown]


class Health(Struct, frozen=True):
    """Whether the service answers, and if not, why."""

    ready: bool
    reasons: list[str]


class JournalEntry(Struct, frozen=True):
    """An entry of the journal, and the digest by which the next one names it."""

    digest: str
    entry: Raw
    """As it is kept: what was changed, by whom and when, and the digest of the entry before."""


class JournalPage(Struct, frozen=True):
    """Entries of the journal in their order."""

    entries: list[JournalEntry]
    next: int | UnsetType = UNSET
    """Give it as `after` to get the next ones; left out at the end."""
