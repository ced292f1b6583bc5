"""The answer about a revision."""

from msgspec import UNSET, UnsetType

from service.api.grades.documents import Envelope
from service.ports.catalogue import LOCAL, Draft, Revision, Withdrawn


def envelope(revision: Revision) -> Envelope:
    """A revision without its specification, with the people who wrote, released and withdrew it, where known."""
    author = _name_unless_local(revision.author)
    if isinstance(revision, Draft):
        return Envelope(revision.grade, revision.number, "draft", revision.digest, revision.created_at, author=author)
    made = (revision.digest, revision.created_at, revision.effective_from, revision.released_at)
    released_by = _name_unless_local(revision.released_by)
    if isinstance(revision, Withdrawn):
        withdrawn_by, gone = _name_unless_local(revision.withdrawn_by), (revision.withdrawn_at, revision.reason)
        return Envelope(revision.grade, revision.number, "withdrawn", *made, *gone, author, released_by, withdrawn_by)
    return Envelope(revision.grade, revision.number, "released", *made, author=author, released_by=released_by)


def _name_unless_local(name: str) -> str | UnsetType:
    """The name of the owner of a key; UNSET for `local`, which stands for everybody while there are no keys."""
    return UNSET if name == LOCAL else name
