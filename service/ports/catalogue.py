"""Ports of the catalogue of grades, the journal and the keys, with their records and errors."""

from collections.abc import Iterable, Sequence
from datetime import datetime
from enum import StrEnum
from typing import NamedTuple, Protocol

from msgspec import Raw, Struct

# One zone and one resolution for every stored time, so that moments compare alike in SQLite, PostgreSQL and Python.
Moment = datetime
"""A point in time, always in UTC, with a resolution of one microsecond."""


def written(moment: Moment) -> str:
    """A moment as text for a sentence, to the second: `2026-11-25T00:00:00Z`; the year always has four digits."""
    # isoformat, not strftime: glibc's %Y prints years before 1000 without their leading zeros.
    return moment.replace(tzinfo=None).isoformat(timespec="seconds") + "Z"


class Scope(StrEnum):
    """A permission of a key. No scope implies another."""

    READ = "read"
    CHECK = "check"
    JUDGE = "judge"
    RECORD = "record"
    CLOSE = "close"
    DISPOSE = "dispose"
    AUTHOR = "author"
    RELEASE = "release"
    ADMINISTER = "administer"


LOCAL = "local"
"""The name that every caller has while no key exists."""


class Draft(Struct, frozen=True, kw_only=True):
    """A revision whose document can still be replaced."""

    grade: str
    number: int
    digest: str
    created_at: Moment
    author: str = LOCAL
    """Name of the person who wrote the current document."""


class Released(Struct, frozen=True, kw_only=True):
    """A released revision; its document never changes again."""

    grade: str
    number: int
    digest: str
    created_at: Moment
    effective_from: Moment
    released_at: Moment
    author: str = LOCAL
    released_by: str = LOCAL


class Withdrawn(Struct, frozen=True, kw_only=True):
    """A released revision that is no longer in force; a caller can still name it, for example to answer a claim."""

    grade: str
    number: int
    digest: str
    created_at: Moment
    effective_from: Moment
    released_at: Moment
    withdrawn_at: Moment
    reason: str
    # Rows from before there were keys hold no names; they are read as LOCAL.
    author: str = LOCAL
    released_by: str = LOCAL
    withdrawn_by: str = LOCAL


Revision = Draft | Released | Withdrawn
# Only these can be in force at some moment; a draft never decides a lot.
Final = Released | Withdrawn


class GradeEntry(NamedTuple):
    """A grade of the catalogue: its code and its number of revisions."""

    grade: str
    revisions: int


class CatalogueState(NamedTuple):
    """The catalogue's version, raised by 1 at every release and withdrawal, and the time by the database's clock."""

    version: int
    now: Moment


class TablesVersion(NamedTuple):
    """The version of the tables, and the oldest version whose release may still run on them."""

    version: str
    oldest: str


class Key(Struct, frozen=True, kw_only=True):
    """The stored record of a key; the key itself is never stored."""

    key: str
    """The public prefix that identifies the key: `mky_` and eight digits."""
    name: str
    """The person or station that uses it; one name may have several keys."""
    # A token has 256 random bits, so a fast hash is safe: a slow one protects only what can be guessed.
    digest: str
    """SHA-256 of the whole key, in hexadecimal digits."""
    scopes: frozenset[Scope]
    added_at: Moment
    expires_at: Moment | None = None
    revoked_at: Moment | None = None
    reason: str = ""
    """Why the key was revoked; empty while it is not."""
    used_at: Moment | None = None
    """Time of the last use, accurate to about a minute."""


class KeysState(NamedTuple):
    """The number of additions and revocations of keys so far, and the time by the database's clock."""

    version: int
    now: Moment


class StateError(Exception):
    """The request conflicts with the stored state; the message is the sentence that a caller reads."""


class GradeUnknownError(StateError):
    """No grade has this code."""


class RevisionUnknownError(StateError):
    """The grade has no revision of this number."""


class NoneInForceError(StateError):
    """No revision of the grade is in force at the moment in question."""


class RevisionIsReleasedError(StateError):
    """The revision is released already, so it can be neither replaced nor released."""


class RevisionIsDraftError(StateError):
    """The revision is a draft, and only a released one can be withdrawn."""


class RevisionIsWithdrawnError(StateError):
    """The revision was withdrawn before."""


class SpecificationHasChangedError(StateError):
    """The stored specification has another digest than the caller expects."""


class PreconditionMissingError(StateError):
    """The request lacks the digest of the specification that the caller has read."""


class SecondPersonNeededError(StateError):
    """The last author of a revision may not release it too."""


class KeyUnknownError(StateError):
    """No key has this prefix."""


class TooManyKeysError(StateError):
    """The limit on valid keys is reached."""


class CatalogueAwayError(StateError):
    """The database is unavailable; `why` states the cause for the operator of the service."""

    def __init__(self, text: str, why: str = "") -> None:
        """Store the sentence for callers and, where it is known, the cause."""
        super().__init__(text)
        self.why = why or text


class Catalogue(Protocol):
    """Stored grades and revisions. Each call is one transaction, and raises CatalogueAwayError without a database."""

    async def grades(self, after: str, limit: int) -> Sequence[GradeEntry]:
        """Return at most `limit` grades whose code sorts after `after`, in order of code."""

    async def revisions(self, grade: str, after: int, limit: int) -> Sequence[Revision]:
        """Return at most `limit` revisions with numbers above `after`, in order of number. Raises GradeUnknownError."""

    async def revision(self, grade: str, number: int) -> Revision:
        """Return one revision. Raises GradeUnknownError, RevisionUnknownError."""

    async def specification(self, grade: str, number: int) -> bytes:
        """Return a revision's document as canonical JSON. Raises GradeUnknownError, RevisionUnknownError."""

    async def add_draft(self, grade: str, canonical: bytes, digest: str, *, by: str = LOCAL) -> tuple[Revision, bool]:
        """Return (new draft, True), numbered after the newest revision; (newest draft, False) if that has the same document.

        Concurrent callers never get one number for two documents, nor two drafts for one document.
        """

    async def replace_draft(
        self, grade: str, number: int, canonical: bytes, digest: str, expected: frozenset[str] | None, *, by: str = LOCAL
    ) -> Revision:
        """Replace a draft's document if its current digest is in `expected` (None accepts any), and return the draft.

        Raises GradeUnknownError, RevisionUnknownError, SpecificationHasChangedError, RevisionIsReleasedError.
        """

    async def release(
        self,
        grade: str,
        number: int,
        effective_from: Moment | None,
        expected: frozenset[str] | None,
        *,
        by: str = LOCAL,
        one_person_may: bool = False,
    ) -> Revision:
        """Release a draft, in force from `effective_from` or from now by the database's clock; raises the catalogue's version.

        one_person_may  whether its last author may release it too, as the caller `local` always may

        Raises GradeUnknownError, RevisionUnknownError, SpecificationHasChangedError, RevisionIsReleasedError,
        SecondPersonNeededError, and FlawedDocumentError at /effective_from for a moment that is past.
        """

    async def withdraw(self, grade: str, number: int, reason: str, *, by: str = LOCAL) -> Revision:
        """Withdraw a released revision and return it; raises the catalogue's version.

        Raises GradeUnknownError, RevisionUnknownError, RevisionIsDraftError, RevisionIsWithdrawnError.
        """

    async def final_revisions(self, grade: str) -> Sequence[Final]:
        """Return all released and withdrawn revisions of a grade, in order of number; empty for an unknown grade."""

    async def grades_of_article(self, article: str, after: str, limit: int) -> Sequence[str]:
        """Return at most `limit` codes after `after`, in order, of grades with a final revision of the article."""

    async def articles(self, limit: int) -> Sequence[str]:
        """Return at most `limit` distinct articles of released or withdrawn revisions, in order."""

    async def current_state(self) -> CatalogueState:
        """Return the version and the clock, read by one statement."""

    # Replicas poll the version and reload only the grades that this names, so a release costs little on each of them.
    async def changed_since(self, version: int) -> Sequence[str]:
        """Return the codes of grades with a release or withdrawal after this version."""

    async def tables_version(self) -> TablesVersion | None:
        """Return the version of the tables; None where the database has none."""


class Journal(Protocol):
    """The append-only journal of changes: what was changed, by whom and when."""

    async def entries(self, after: int, limit: int) -> Sequence[tuple[Raw, str]]:
        """Return at most `limit` entries with numbers above `after`, in order: (stored bytes, digest) each.

        Raises CatalogueAwayError.
        """


class Keys(Protocol):
    """Stored keys. Each call is one transaction, and raises CatalogueAwayError without a database."""

    async def current_state(self) -> KeysState:
        """Return the version, which each added or revoked key raises by 1, and the clock; 0 while no key was ever added."""

    async def live(self) -> Sequence[Key]:
        """Return all keys that are neither revoked nor expired."""

    async def listed(self, after: str, limit: int) -> Sequence[Key]:
        """Return at most `limit` keys after `after`, in order of prefix, revoked and expired ones included."""

    async def add(self, key: Key) -> Key:
        """Store a key with `added_at` from the database's clock, and return it. Raises TooManyKeysError."""

    async def revoke(self, key: str, by: str, reason: str) -> Key:
        """Revoke a key and return it; repeating is safe, as a revoked key stays unchanged. Raises KeyUnknownError."""

    async def note_uses(self, keys: Iterable[str]) -> None:
        """Record that these keys were used now."""
