"""What use cases need from outside, as they ask for it: the catalogue of grades, its clock, and how it can refuse."""

from collections.abc import Iterable, Sequence
from datetime import datetime
from enum import StrEnum
from typing import NamedTuple, Protocol

from msgspec import Raw, Struct

Moment = datetime
"""Always in UTC, to the microsecond."""


def written(moment: Moment) -> str:
    """A moment in a sentence: `2026-11-25T00:00:00Z`, years before 1000 with their zeros."""
    return moment.replace(tzinfo=None).isoformat(timespec="seconds") + "Z"


class Scope(StrEnum):
    """What a caller may be allowed to do. Each is only itself; none implies another."""

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
"""The name of everybody, as long as nobody has a key."""


class Draft(Struct, frozen=True, kw_only=True):
    """A revision that can still be replaced."""

    grade: str
    number: int
    digest: str
    created_at: Moment
    author: str = LOCAL
    """Who wrote its document last."""


class Released(Struct, frozen=True, kw_only=True):
    """A revision that never changes any more."""

    grade: str
    number: int
    digest: str
    created_at: Moment
    effective_from: Moment
    released_at: Moment
    author: str = LOCAL
    released_by: str = LOCAL


class Withdrawn(Struct, frozen=True, kw_only=True):
    """A released revision that is in force no more; it can still be named, to answer a claim."""

    grade: str
    number: int
    digest: str
    created_at: Moment
    effective_from: Moment
    released_at: Moment
    withdrawn_at: Moment
    reason: str
    author: str = LOCAL
    released_by: str = LOCAL
    withdrawn_by: str = LOCAL


Revision = Draft | Released | Withdrawn
Final = Released | Withdrawn


class GradeEntry(NamedTuple):
    """A grade of the catalogue: its code and how many revisions it has."""

    grade: str
    revisions: int


class CatalogueState(NamedTuple):
    """The catalogue's version, which every release and withdrawal raises, and the database's clock."""

    version: int
    now: Moment


class TablesVersion(NamedTuple):
    """Which version the tables are of, and the oldest version whose release may still run on them."""

    version: str
    oldest: str


class Key(Struct, frozen=True, kw_only=True):
    """What is kept of a key: never the key itself."""

    key: str
    """The beginning by which it is recognised, `mky_` and eight digits."""
    name: str
    """Whose it is; one person may have several."""
    digest: str
    """SHA-256 of the whole key, in hexadecimal digits."""
    scopes: frozenset[Scope]
    added_at: Moment
    expires_at: Moment | None = None
    revoked_at: Moment | None = None
    reason: str = ""
    """Why it was revoked."""
    used_at: Moment | None = None
    """When it was last used, to the minute or so."""


class KeysState(NamedTuple):
    """How many keys were added and revoked so far, and the database's clock."""

    version: int
    now: Moment


class StateError(Exception):
    """What is asked for does not go with the state of the catalogue; the text is the sentence that a caller reads."""


class GradeUnknownError(StateError):
    """There is no grade of this code."""


class RevisionUnknownError(StateError):
    """The grade has no revision of this number."""


class NoneInForceError(StateError):
    """No revision of the grade is in force at that moment."""


class RevisionIsReleasedError(StateError):
    """A released revision never changes, and is released once."""


class RevisionIsDraftError(StateError):
    """Only a released revision can be withdrawn."""


class RevisionIsWithdrawnError(StateError):
    """The revision is withdrawn already."""


class SpecificationHasChangedError(StateError):
    """The specification is not the one that the caller has read."""


class PreconditionMissingError(StateError):
    """The caller has to say which specification he has read."""


class SecondPersonNeededError(StateError):
    """Who wrote a revision last does not release it too."""


class KeyUnknownError(StateError):
    """There is no key that begins so."""


class TooManyKeysError(StateError):
    """So many keys are good that no more are taken."""


class CatalogueAwayError(StateError):
    """The database cannot be asked now; `why` says it to whoever runs the service."""

    def __init__(self, text: str, why: str = "") -> None:
        """Keep the sentence for callers, and the cause where it is known."""
        super().__init__(text)
        self.why = why or text


class Catalogue(Protocol):
    """Grades and their revisions, kept. Each call is one transaction; all raise CatalogueAwayError while it is away."""

    async def grades(self, after: str, limit: int) -> Sequence[GradeEntry]:
        """At most so many grades whose code comes after this one, in the order of their codes."""

    async def revisions(self, grade: str, after: int, limit: int) -> Sequence[Revision]:
        """At most so many revisions of a grade with a greater number than this. Raises GradeUnknownError."""

    async def revision(self, grade: str, number: int) -> Revision:
        """One revision. Raises GradeUnknownError, RevisionUnknownError."""

    async def specification(self, grade: str, number: int) -> bytes:
        """Its document in canonical form. Raises GradeUnknownError, RevisionUnknownError."""

    async def add_draft(self, grade: str, canonical: bytes, digest: str, *, by: str = LOCAL) -> tuple[Revision, bool]:
        """(the draft, True), numbered after the newest revision; (the newest draft, False) if it is the same document.

        Two callers at once never get one number for two documents, nor two drafts for one.
        """

    async def replace_draft(
        self, grade: str, number: int, canonical: bytes, digest: str, expected: frozenset[str] | None, *, by: str = LOCAL
    ) -> Revision:
        """The draft with another document, if its digest is an expected one; None expects any.

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
        """The draft released, in force from a moment or from now, by the catalogue's clock; raises its version.

        one_person_may  whether its last author may release it too, as everybody may who is `local`

        Raises GradeUnknownError, RevisionUnknownError, SpecificationHasChangedError, RevisionIsReleasedError,
        SecondPersonNeededError, and FlawedDocumentError at /effective_from for a moment that is past.
        """

    async def withdraw(self, grade: str, number: int, reason: str, *, by: str = LOCAL) -> Revision:
        """The released revision withdrawn; raises the version.

        Raises GradeUnknownError, RevisionUnknownError, RevisionIsDraftError, RevisionIsWithdrawnError.
        """

    async def finals(self, grade: str) -> Sequence[Final]:
        """All released and withdrawn revisions of a grade, none for one that is unknown."""

    async def of_article(self, article: str, after: str, limit: int) -> Sequence[str]:
        """At most so many grades whose code comes after this one, of which a final revision is of this article, in order."""

    async def articles(self, limit: int) -> Sequence[str]:
        """At most so many of the articles that final revisions are of, each once, in order."""

    async def current_state(self) -> CatalogueState:
        """The version and the clock, read together."""

    async def changed_since(self, version: int) -> Sequence[str]:
        """The grades of which a revision was released or withdrawn after this version."""

    async def tables(self) -> TablesVersion | None:
        """Of which version the tables are; None where there are none."""


class Journal(Protocol):
    """What was changed, by whom and when; only ever added to."""

    async def entries(self, after: int, limit: int) -> Sequence[tuple[Raw, str]]:
        """At most so many entries behind this number, in their order: each as it is kept, and its digest.

        Raises CatalogueAwayError.
        """


class Keys(Protocol):
    """Keys, kept. Each call is one transaction; all raise CatalogueAwayError while the database is away."""

    async def current_state(self) -> KeysState:
        """What tells that keys have changed: a version that each one added or revoked raises, 0 while there never was one."""

    async def live(self) -> Sequence[Key]:
        """All that are neither revoked nor expired."""

    async def listed(self, after: str, limit: int) -> Sequence[Key]:
        """At most so many keys that come after this one, revoked and expired ones too, in the order of their beginnings."""

    async def add(self, key: Key) -> Key:
        """The key kept, added by the database's clock. Raises TooManyKeysError."""

    async def revoke(self, key: str, by: str, reason: str) -> Key:
        """The key revoked; one that is revoked already stays as it is, so that it is safe to repeat. Raises KeyUnknownError."""

    async def note_uses(self, keys: Iterable[str]) -> None:
        """These were used just now."""
