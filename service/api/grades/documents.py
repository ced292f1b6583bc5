"""Documents of grades and their revisions."""

from typing import Literal

from msgspec import UNSET, Struct, UnsetType

from service.api.moments import Moment
from service.engine.documents import LongText

State = Literal["draft", "released", "withdrawn"]


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
