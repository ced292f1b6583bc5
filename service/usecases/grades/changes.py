"""Differences between two revisions of a grade, requirement by requirement."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Literal

from msgspec import UNSET, Struct, UnsetType

Document = Mapping[str, Any]
"""A specification as decoded JSON."""
LISTS = {"characteristics": "name", "requirements": "id"}
"""The lists of a specification, and the member that identifies their entries."""


class Change(Struct, frozen=True, kw_only=True):
    """One difference; without a requirement or characteristic it concerns the document itself."""

    requirement: str | UnsetType = UNSET
    characteristic: str | UnsetType = UNSET
    change: Literal["added", "removed", "altered"]
    fields: Sequence[str] | UnsetType = UNSET
    """Names of the members that differ; only for `altered`."""


class Changes(Struct, frozen=True):
    """Differences of revision `until` from revision `since`; a change of order alone is none."""

    since: int
    until: int
    changes: Sequence[Change]


def changes_between(old: Document, new: Document) -> list[Change]:
    """Return all differences: of the document itself, of characteristics, of requirements, in the order of the documents."""
    return [*_of_document(old, new), *_of_list("characteristics", old, new), *_of_list("requirements", old, new)]


def _of_document(old: Document, new: Document) -> Iterator[Change]:
    """The difference in title, article, package and the buyer's document."""
    fields = [field for field in _differing(old, new) if field not in LISTS]
    if fields:
        yield Change(change="altered", fields=fields)


def _of_list(member: str, old: Document, new: Document) -> Iterator[Change]:
    """Removed entries, then added and altered ones."""
    key, named = LISTS[member], member.removesuffix("s")
    before, after = ({each[key]: each for each in document[member]} for document in (old, new))
    for name in before:
        if name not in after:
            yield Change(**{named: name}, change="removed")
    for name, each in after.items():
        if name not in before:
            yield Change(**{named: name}, change="added")
        elif fields := _differing(before[name], each):
            yield Change(**{named: name}, change="altered", fields=fields)


def _differing(old: Document, new: Document) -> list[str]:
    """Sorted names of the members that differ; a missing member differs from any value."""
    return sorted(name for name in {*old, *new} if name not in old or name not in new or not _same(old[name], new[name]))


def _same(one: object, other: object) -> bool:
    """True for equal JSON: 1 equals 1.0, but not true."""
    if isinstance(one, dict) and isinstance(other, dict):
        return not _differing(one, other)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(_same, one, other))
    # In Python True == 1.
    return isinstance(one, bool) == isinstance(other, bool) and one == other
