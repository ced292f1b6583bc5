"""The part of a misshapen document without its flawed members, so that flaws of meaning in it are reported at once too."""

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
"""Rounds of removal: a removed member can make its object flawed, and so on outwards; no document is deeper."""
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
"""Codes of flaws that may exist only because something was removed; they are withheld until the other flaws are mended."""
NAMES_THE_GRADE = ("against", "specification", "grade", "revision")


def may_come_from_absence(code: str, removed: Iterable[str]) -> bool:
    """Whether a flaw of this code may exist only because members were removed at these pointers.

    A grade declares its characteristics in one list. `unknown-characteristic` is certain where nothing of that list was
    removed, nor anything that says which grade is meant.
    """
    if code != "unknown-characteristic":
        return code in FROM_ABSENCE
    steps = [pointer.split("/") for pointer in removed]
    return any("characteristics" in path or path[-1] in NAMES_THE_GRADE for path in steps)


class Gaps(NamedTuple):
    """The places of removed members."""

    removed: frozenset[str]
    ancestors: frozenset[str]
    """Pointers of every object and list that contains such a place, at any depth."""

    def affects(self, at: str) -> bool:
        """True where something was removed at, inside or around this place."""
        return at in self.ancestors or not self.removed.isdisjoint((at, *_ancestors(at)))


class ValidPart(Struct, Generic[T]):
    """The part of a document that fits its type."""

    document: T
    places: Mapping[str, str]
    """Pointers of list items in the whole document, by their pointers in this part, where removals have shifted them."""
    gaps: Gaps

    def flaws_of_whole(self, flaws: Sequence[Flaw]) -> list[Flaw]:
        """Those flaws of the part that the whole document certainly has too, with pointers into the whole."""
        restated = (Flaw(flaw.code, self._text(flaw), original_pointer(flaw.at, self.places), flaw.rule) for flaw in flaws)
        waiting = {code for code in {flaw.code for flaw in flaws} if may_come_from_absence(code, self.gaps.removed)}
        return [flaw for flaw in restated if flaw.code not in waiting and not self.gaps.affects(flaw.at)]

    def _text(self, flaw: Flaw) -> str:
        """The text of a flaw, with the pointers in it (such as that of the first of two) turned into those of the whole."""

        def place(match: re.Match[str]) -> str:
            before = flaw.at.partition(f"/{match[1]}/")[0]
            return original_pointer(before + match[0], self.places).removeprefix(before)

        return _PLACE.sub(place, flaw.text)


def valid_part_of(value: object, type_: type[T], flaws: Sequence[Flaw]) -> ValidPart[T] | None:
    """The document without the members that have these flaws of shape; None where nothing useful is left."""
    removed: set[str] = set()
    for _ in range(MOST_ROUNDS):
        # A missing field can't be removed, so the object that lacks it is.
        removed |= {_parent(flaw.at) if flaw.code == "missing-field" else flaw.at for flaw in flaws}
        if "" in removed:
            return None
        gaps, places = Gaps(frozenset(removed), frozenset(chain.from_iterable(map(_ancestors, removed)))), dict[str, str]()
        left = _without_removed(value, gaps, "", "", places)
        flaws = [Flaw(flaw.code, flaw.text, original_pointer(flaw.at, places)) for flaw in check_shape(left, type_)]
        if not flaws:
            return ValidPart(msgspec.convert(left, type_), places, gaps)
    return None


def _parent(at: str) -> str:
    return at.rpartition("/")[0]


def _ancestors(at: str) -> Iterator[str]:
    """The pointers of everything that contains a place, from the inside out."""
    while at:
        at = _parent(at)
        yield at


def original_pointer(at: str, places: Mapping[str, str]) -> str:
    """A pointer into the part, turned into one into the whole document."""
    head, tail = at, ""
    while head and head not in places:
        head, _, last = head.rpartition("/")
        tail = f"/{last}{tail}"
    return places.get(head, "") + tail


def _without_removed(value: object, gaps: Gaps, at: str, now: str, places: dict[str, str]) -> object:
    """The value without the removed members; `at` is its pointer in the whole, `now` in the part."""
    # Subtrees without a removal are shared, not copied: a column of readings costs nothing.
    if at not in gaps.ancestors:
        return value
    if isinstance(value, dict):
        members = ((key, item, f"/{key.replace('~', '~0').replace('/', '~1')}") for key, item in value.items())
        removed = gaps.removed
        return {
            key: _without_removed(item, gaps, at + step, now + step, places)
            for key, item, step in members
            if at + step not in removed
        }
    if not isinstance(value, list):
        return value
    items: list[object] = []
    for number, item in enumerate(value):
        here = f"{at}/{number}"
        if here not in gaps.removed:
            places[f"{now}/{len(items)}"] = here
            items.append(_without_removed(item, gaps, here, f"{now}/{len(items)}", places))
    return items


def in_document_order(value: object, flaws: Iterable[Flaw]) -> list[Flaw]:
    """The flaws in the order of the document; those of missing members come after the other members of their object."""
    numbers = MemberNumbers()
    return sorted(flaws, key=lambda flaw: numbers.path_of(value, flaw.at))


class MemberNumbers:
    """Positions of members in their objects; each object is numbered once, however many flaws it has.

    Looking each flaw up in a list of the object's members took 100 s for a body of 989 kB with unknown members.
    """

    def __init__(self) -> None:
        """Start with no object numbered."""
        self._by_object: dict[int, Mapping[str, int]] = {}

    def path_of(self, value: object, at: str) -> list[int]:
        """The positions of the members and items on the path to a place: a sort key for the document's order."""
        numbers = []
        for step in at.split("/")[1:]:
            key = step.replace("~1", "/").replace("~0", "~")
            if isinstance(value, dict):
                numbers.append(self._numbers_of(value).get(key, len(value)))
                value = value.get(key)
            elif isinstance(value, list) and key.isdigit() and int(key) < len(value):
                numbers.append(int(key))
                value = value[int(key)]
        return numbers

    def _numbers_of(self, members: Mapping[str, object]) -> Mapping[str, int]:
        """The position of each member of an object, cached by its id."""
        # Safe, as the caller holds the document: no other object can get this id meanwhile.
        found = self._by_object.get(id(members))
        if found is None:
            found = self._by_object[id(members)] = {key: number for number, key in enumerate(members)}
        return found
