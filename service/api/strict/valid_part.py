"""What is left of a document without its flawed members, so that flaws of meaning in the rest are told at once, too."""

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import chain
from typing import Generic, NamedTuple, TypeVar

import msgspec
from msgspec import Struct

from service.api.strict.shapes import check_shape
from service.engine.documents import Flaw

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
NAMES_THE_GRADE = ("against", "specification", "grade", "revision")


def may_come_from_absence(code: str, removed: Iterable[str]) -> bool:
    """Whether there may be a flaw of this code only because something was taken out at these places.

    Which characteristics there are is said in one list of a grade. One is unknown for certain where nothing of that list was
    taken out, nor of what says which grade it is.
    """
    if code != "unknown-characteristic":
        return code in FROM_ABSENCE
    steps = [each.split("/") for each in removed]
    return any("characteristics" in each or each[-1] in NAMES_THE_GRADE for each in steps)


class Gaps(NamedTuple):
    """Where something was taken out of a document."""

    removed: frozenset[str]
    around: frozenset[str]
    """Every object and list that holds such a place, at any depth."""

    def touch(self, at: str) -> bool:
        """True where something was taken out at, in or around this place."""
        return at in self.around or not self.removed.isdisjoint((at, *_around(at)))


class Rest(Struct, Generic[T]):
    """The part of a document that has the right shape."""

    document: T
    places: Mapping[str, str]
    """Where items of lists stood in the whole document, by where they stand in this one."""
    gaps: Gaps

    def flaws_of_whole(self, flaws: Sequence[Flaw]) -> list[Flaw]:
        """Flaws of the rest that the whole document has for certain, with their pointers into that one."""
        told = (Flaw(flaw.code, self._text(flaw), original(flaw.at, self.places), flaw.rule) for flaw in flaws)
        waiting = {code for code in {flaw.code for flaw in flaws} if may_come_from_absence(code, self.gaps.removed)}
        return [flaw for flaw in told if flaw.code not in waiting and not self.gaps.touch(flaw.at)]

    def _text(self, flaw: Flaw) -> str:
        """The sentence; a place that it names, such as that of the first of two, is told as in the whole document."""

        def place(match: re.Match[str]) -> str:
            before = flaw.at.partition(f"/{match[1]}/")[0]
            return original(before + match[0], self.places).removeprefix(before)

        return _PLACE.sub(place, flaw.text)


def rest_of(value: object, of: type[T], flaws: Sequence[Flaw]) -> Rest[T] | None:
    """The document without the members that these flaws of shape are in; None where nothing useful is left."""
    removed: set[str] = set()
    for _ in range(MOST_ROUNDS):
        removed |= {_parent(flaw.at) if flaw.code == "missing-field" else flaw.at for flaw in flaws}
        if "" in removed:
            return None
        gaps, places = Gaps(frozenset(removed), frozenset(chain.from_iterable(map(_around, removed)))), dict[str, str]()
        left = _without(value, gaps, "", "", places)
        flaws = [Flaw(flaw.code, flaw.text, original(flaw.at, places)) for flaw in check_shape(left, of)]
        if not flaws:
            return Rest(msgspec.convert(left, of), places, gaps)
    return None


def _parent(at: str) -> str:
    return at.rpartition("/")[0]


def _around(at: str) -> Iterator[str]:
    """What a place stands in, from the inside out."""
    while at:
        at = _parent(at)
        yield at


def original(at: str, places: Mapping[str, str]) -> str:
    """A pointer into the rest as one into the whole."""
    head, tail = at, ""
    while head and head not in places:
        head, _, last = head.rpartition("/")
        tail = f"/{last}{tail}"
    return places.get(head, "") + tail


def _without(value: object, gaps: Gaps, at: str, now: str, places: dict[str, str]) -> object:
    """The value less what is removed; `at` is where it stands in the whole, `now` in the rest."""
    if at not in gaps.around:
        return value
    if isinstance(value, dict):
        kept = ((key, item, f"/{key.replace('~', '~0').replace('/', '~1')}") for key, item in value.items())
        removed = gaps.removed
        return {
            key: _without(item, gaps, at + step, now + step, places) for key, item, step in kept if at + step not in removed
        }
    if not isinstance(value, list):
        return value
    items: list[object] = []
    for number, item in enumerate(value):
        here = f"{at}/{number}"
        if here not in gaps.removed:
            places[f"{now}/{len(items)}"] = here
            items.append(_without(item, gaps, here, f"{now}/{len(items)}", places))
    return items


def in_order(value: object, flaws: Iterable[Flaw]) -> list[Flaw]:
    """The flaws in the order in which a document has their places; what is missing from an object comes after what is there."""
    numbers = Numbers()
    return sorted(flaws, key=lambda flaw: numbers.on_the_way(value, flaw.at))


class Numbers:
    """Which member of its object something is; each object is numbered once, however many flaws are in it."""

    def __init__(self) -> None:
        """None is yet."""
        self._by_object: dict[int, Mapping[str, int]] = {}

    def on_the_way(self, value: object, at: str) -> list[int]:
        """The numbers of the members and items on the way to a place."""
        numbers = []
        for step in at.split("/")[1:]:
            key = step.replace("~1", "/").replace("~0", "~")
            if isinstance(value, dict):
                numbers.append(self._of(value).get(key, len(value)))
                value = value.get(key)
            elif isinstance(value, list) and key.isdigit() and int(key) < len(value):
                numbers.append(int(key))
                value = value[int(key)]
        return numbers

    def _of(self, members: Mapping[str, object]) -> Mapping[str, int]:
        """The number of each member. The document is held by who asks, so no other object has this one's id meanwhile."""
        found = self._by_object.get(id(members))
        if found is None:
            found = self._by_object[id(members)] = {key: number for number, key in enumerate(members)}
        return found
