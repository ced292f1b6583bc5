"""Documents of grades and their revisions."""

from typing import Literal

from msgspec import UNSET, Struct, UnsetType

from service.api.moments import Moment
from service.engine.documents import LongText

State = Literal["draft", "released", "withdrawn"]


class Envelope(Struct, frozen=True):
    """A revision without its specification: state, moments, digest, people."""

    grade: str
    revision: int
    state: State
    specification: str
    """Digest of the specification, `sha256:…`."""
    created_at: Moment
    effective_from: Moment | UnsetType = UNSET
    """The moment from which it is in force, where it is released."""
    released_at: Moment | UnsetType = UNSET
    withdrawn_at: Moment | UnsetType = UNSET
    reason: str | UnsetType = UNSET
    """Why it was withdrawn."""
    author: str | UnsetType = UNSET
    """Who wrote its specification last, where that is known."""
    released_by: str | UnsetType = UNSET
    withdrawn_by: str | UnsetType = UNSET


class GradeSummary(Struct, frozen=True):
    """A grade in a list."""

    grade: str
    revisions: int
    """Number of its revisions."""


class GradeList(Struct, frozen=True):
    """Grades in the order of their codes."""

    grades: list[GradeSummary]
    next: str | UnsetType = UNSET
    """Send it as `after` to get the next page; left out on the last page."""


class GradeShown(Struct, frozen=True):
    """A grade with its revisions, the oldest first."""

    grade: str
    revisions: list[Envelope]
    next: int | UnsetType = UNSET
    """Send it as `after` to get the next page; left out on the last page."""


class Release(Struct, frozen=True, forbid_unknown_fields=True):
    """The moment from which a revision is in force; from now on where it is left out."""

    effective_from: Moment | UnsetType = UNSET


class Withdrawal(Struct, frozen=True, forbid_unknown_fields=True):
    """Why a revision is withdrawn."""

    reason: LongText
