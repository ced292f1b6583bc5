"""Comparison of two JSON documents, member by member."""

from collections.abc import Iterator
from collections.abc import Set as AbstractSet

from msgspec import UNSET, Struct


class Difference(Struct, frozen=True):
    """One place where two documents differ, with the value of each."""

    at: str
    """JSON Pointer to the value; of lists of different lengths, to the list."""
    then: object = UNSET
    """The earlier value; left out where the member was absent."""
    now: object = UNSET
    """The later value; left out where the member is absent."""


def differences(then: object, now: object, at: str = "", but: AbstractSet[str] = frozenset()) -> Iterator[Difference]:
    """Every place where two JSON documents differ, members in alphabetical order.

    then, now  the earlier and the later document
    at         JSON Pointer of both documents, put before each pointer
    but        names of members that are not compared, at any depth

    Lists of different lengths are one difference, at the list. 1 and 1.0 are equal; true and 1 are not.
    """
    if isinstance(then, dict) and isinstance(now, dict):
        # A set has another order in each process (hash seeds), and the same question must get the same answer.
        for name in sorted({*then, *now} - but):
            yield from differences(then.get(name, UNSET), now.get(name, UNSET), f"{at}/{_escaped(name)}", but)
    elif isinstance(then, list) and isinstance(now, list) and len(then) == len(now):
        for number, (one, other) in enumerate(zip(then, now, strict=True)):
            yield from differences(one, other, f"{at}/{number}", but)
    # In Python True == 1, so the types of booleans are compared too.
    elif then != now or isinstance(then, bool) != isinstance(now, bool):
        yield Difference(at, then, now)


def _escaped(name: str) -> str:
    # RFC 6901, section 3. `~` goes first: the other way round the `~` of an escaped `/` would be escaped again.
    return name.replace("~", "~0").replace("/", "~1")
