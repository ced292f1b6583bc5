"""What is left of a document without its flawed members, so that flaws of meaning in the rest are told at once, too."""

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Generic, TypeVar

import msgspec
from msgspec import Struct

from service.api.strict.shapes import check_shape
from service.engine.flaws import Flaw

T = TypeVar("T")
_PLACE = re.compile(r"/(requirements|characteristics|declared|series|counts|dates|grades)/[0-9]+")
MOST_ROUNDS = 8
"""A member that is taken out can make its object flawed, and so on outwards; documents here are not deeper."""
FROM_ABSENCE = frozenset(
    {
        "missing-field",
        "limits-without-sides",
        "nothing-binding",
        "packages-differ-in-number",
        "quantity-missing",
        "reading-without-partner",
        "unknown-characteristic",
        "unknown-event",
        "unknown-class",
        "unknown-fault",
        "class-or-fault",
        "nothing-counted",
        "nothing-looked-over",
        "count-not-given",
        "counted-twice",
        "counted-in-two-ways",
        "by-package-differs",
        "looked-at-not-here",
        "stage-without-first",
        "stages-out-of-order",
        "stage-not-called-for",
        "retest-of-other-plan",
        "retest-readings-differ",
        "past-without-upper",
        "one-of-or-limits",
        "grade-or-specification",
        "article-or-grades",
    }
)
"""Flaws that there may only be because something was taken out; they wait until the others are mended."""


class Rest(Struct, Generic[T]):
    """The part of a document that has the right shape."""

    document: T
    places: Mapping[str, str]
    """Where items of lists stood in the whole document, by where they stand in this one."""
    removed: frozenset[str]

    def flaws_of_whole(self, flaws: Iterable[Flaw]) -> list[Flaw]:
        """Flaws of the rest that the whole document has for certain, with their pointers into that one."""
        told = (Flaw(flaw.code, self._text(flaw), original(flaw.at, self.places), flaw.rule) for flaw in flaws)
        return [flaw for flaw in told if flaw.code not in FROM_ABSENCE and not self._is_touched(flaw.at)]

    def _text(self, flaw: Flaw) -> str:
        """The sentence; a place that it names, such as that of the first of two, is told as in the whole document."""

        def place(match: re.Match[str]) -> str:
            before = flaw.at.partition(f"/{match[1]}/")[0]
            return original(before + match[0], self.places).removeprefix(before)

        return _PLACE.sub(place, flaw.text)

    def _is_touched(self, at: str) -> bool:
        """True where something was taken out at, in or around this place."""
        return any(f"{each}/".startswith(f"{at}/") or f"{at}/".startswith(f"{each}/") for each in self.removed)


def rest_of(value: object, of: type[T], flaws: Sequence[Flaw]) -> Rest[T] | None:
    """The document without the members that these flaws of shape are in; None where nothing useful is left."""
    removed: set[str] = set()
    for _ in range(MOST_ROUNDS):
        removed |= {_parent(flaw.at) if flaw.code == "missing-field" else flaw.at for flaw in flaws}
        if "" in removed:
            return None
        places: dict[str, str] = {}
        left = _without(value, removed, "", "", places)
        flaws = [Flaw(flaw.code, flaw.text, original(flaw.at, places)) for flaw in check_shape(left, of)]
        if not flaws:
            return Rest(msgspec.convert(left, of), places, frozenset(removed))
    return None


def _parent(at: str) -> str:
    return at.rpartition("/")[0]


def original(at: str, places: Mapping[str, str]) -> str:
    """A pointer into the rest as one into the whole."""
    head, tail = at, ""
    while head and head not in places:
        head, _, last = head.rpartition("/")
        tail = f"/{last}{tail}"
    return places.get(head, "") + tail


def _without(value: object, removed: set[str], at: str, now: str, places: dict[str, str]) -> object:
    """The value less what is removed; `at` is where it stands in the whole, `now` in the rest."""
    if isinstance(value, dict):
        kept = ((key, item, f"/{key.replace('~', '~0').replace('/', '~1')}") for key, item in value.items())
        return {
            key: _without(item, removed, at + step, now + step, places) for key, item, step in kept if at + step not in removed
        }
    if not isinstance(value, list):
        return value
    if not any(each.startswith(f"{at}/") for each in removed):
        return value
    items: list[object] = []
    for number, item in enumerate(value):
        here = f"{at}/{number}"
        if here not in removed:
            places[f"{now}/{len(items)}"] = here
            items.append(_without(item, removed, here, f"{now}/{len(items)}", places))
    return items


def in_order(value: object, flaws: Iterable[Flaw]) -> list[Flaw]:
    """The flaws in the order in which a document has their places; what is missing from an object comes after what is there."""
    return sorted(flaws, key=lambda flaw: _position(value, flaw.at))


def _position(value: object, at: str) -> list[int]:
    """The numbers of the members and items on the way to a place."""
    numbers = []
    for step in at.split("/")[1:]:
        key = step.replace("~1", "/").replace("~0", "~")
        if isinstance(value, dict):
            numbers.append(list(value).index(key) if key in value else len(value))
            value = value.get(key)
        elif isinstance(value, list) and key.isdigit() and int(key) < len(value):
            numbers.append(int(key))
            value = value[int(key)]
    return numbers
