"""What differs between two revisions of a grade, requirement by requirement."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Literal

from msgspec import UNSET, Struct, UnsetType

Document = Mapping[str, Any]
"""A specification as JSON gives it."""
LISTS = {"characteristics": "name", "requirements": "id"}
"""The lists of a specification, and the member that names what is in them."""


class Change(Struct, frozen=True, kw_only=True):
    """One thing that differs; without a name it is about the document itself."""

    requirement: str | UnsetType = UNSET
    characteristic: str | UnsetType = UNSET
    change: Literal["added", "removed", "altered"]
    fields: Sequence[str] | UnsetType = UNSET
    """What differs in it, by name; only where it is altered."""


class Changes(Struct, frozen=True):
    """What differs in revision `until` from revision `since`. What is the same, or only in another order, is left out."""

    since: int
    until: int
    changes: Sequence[Change]


def changes_between(old: Document, new: Document) -> list[Change]:
    """All that differs: the document itself, then characteristics, then requirements, in the order of the documents."""
    return [*_of_document(old, new), *_of_list("characteristics", old, new), *_of_list("requirements", old, new)]


def _of_document(old: Document, new: Document) -> Iterator[Change]:
    """Title, article, package, the buyer's document."""
    fields = [field for field in _differing(old, new) if field not in LISTS]
    if fields:
        yield Change(change="altered", fields=fields)


def _of_list(member: str, old: Document, new: Document) -> Iterator[Change]:
    """What was removed, then what was added or altered."""
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
    """The members that differ, by name; one that is left out differs from any that is there."""
    return sorted(name for name in {*old, *new} if name not in old or name not in new or not _same(old[name], new[name]))


def _same(one: object, other: object) -> bool:
    """Equal as JSON: 1 and 1.0 are one number, 1 and true are not."""
    if isinstance(one, dict) and isinstance(other, dict):
        return not _differing(one, other)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(_same, one, other))
    return isinstance(one, bool) == isinstance(other, bool) and one == other
