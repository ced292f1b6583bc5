"""Where two JSON documents differ, member by member."""

from collections.abc import Iterator
from collections.abc import Set as AbstractSet

from msgspec import UNSET, Struct


class Difference(Struct, frozen=True):
    """One place at which two documents differ."""

    at: str
    """JSON Pointer; where lists are of different lengths it is that of the list."""
    then: object = UNSET
    """Left out where there was nothing."""
    now: object = UNSET
    """Left out where there is nothing."""


def differences(then: object, now: object, at: str = "", but: AbstractSet[str] = frozenset()) -> Iterator[Difference]:
    """Every place, in the order of the names; of lists of different lengths only the list.

    at   pointer of both documents
    but  names of members that may differ, wherever they stand

    1 and 1.0 are the same number, and neither is true.
    """
    if isinstance(then, dict) and isinstance(now, dict):
        for name in sorted({*then, *now} - but):
            yield from differences(then.get(name, UNSET), now.get(name, UNSET), f"{at}/{_escaped(name)}", but)
    elif isinstance(then, list) and isinstance(now, list) and len(then) == len(now):
        for number, (one, other) in enumerate(zip(then, now, strict=True)):
            yield from differences(one, other, f"{at}/{number}", but)
    elif then != now or isinstance(then, bool) != isinstance(now, bool):
        yield Difference(at, then, now)


def _escaped(name: str) -> str:
    return name.replace("~", "~0").replace("/", "~1")
