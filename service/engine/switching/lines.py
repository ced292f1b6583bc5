"""The lots of a line in their order, and what was decided about it: from these, where each class stands.

Lots come in the order in which each had its first verdict, and what counts of a lot is its newest one: a correction counts in
the place of what it corrects, and what follows it is worked out again.
"""

from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import NamedTuple

from service.engine.switching.following import Inspected, Override, SwitchingHistory, SwitchingState, follow
from service.engine.switching.results import Subject
from service.engine.switching.stored_results import decoded_results

START = SwitchingHistory(standing=SwitchingState(), switches=[])
BETWEEN_MARKS = 128
"""So many events are worked out again at most where one comes late that belongs among the last."""
Courses = Mapping[Subject, SwitchingHistory]


class LotResults(NamedTuple):
    """What a verdict on a lot says to switching."""

    at: datetime
    """When the lot had its first verdict."""
    lot: str
    verdict: int
    """Its number; of several on a lot the greatest counts."""
    results: bytes
    """As they are kept beside it."""


class Decision(NamedTuple):
    """What was decided about a class."""

    at: datetime
    subject: Subject
    override: Override


class LineHistory:
    """A line's lots and decisions as far as they are known; it takes in what comes, in any order and more than once."""

    def __init__(self) -> None:
        """Nothing has come yet."""
        self._events: list[LotResults | Decision] = []
        self._courses: dict[Subject, SwitchingHistory] = {}
        self._marks: list[Courses] = []
        """Where all stood after each so many events."""

    @property
    def events(self) -> int:
        """How many there are."""
        return len(self._events)

    @property
    def subjects(self) -> Sequence[Subject]:
        """All that something was told of, in order."""
        return sorted(self._courses)

    def course(self, subject: Subject) -> SwitchingHistory:
        """Where a class stands, and how it came there; as at the start where nothing was told of it."""
        return self._courses.get(subject, START)

    def take(self, events: Iterable[LotResults | Decision]) -> None:
        """Take these in, and work out again what comes behind the first of them."""
        first = len(self._events)
        for event in events:
            first = min(first, self._put(event))
        if first < len(self._events):
            self._count_from(first)

    def _put(self, event: LotResults | Decision) -> int:
        """Put it in its place; the number of that, or of the end where it is there already."""
        place = bisect_left(self._events, _place(event), key=_place)
        there = self._events[place] if place < len(self._events) else None
        if there is None or _place(there) != _place(event):
            self._events.insert(place, event)
        elif isinstance(there, LotResults) and isinstance(event, LotResults) and event.verdict > there.verdict:
            self._events[place] = event
        else:
            return len(self._events)
        return place

    def _count_from(self, first: int) -> None:
        """Work out all again from an event on, or from the mark before it."""
        del self._marks[first // BETWEEN_MARKS :]
        self._courses = dict(self._marks[-1]) if self._marks else {}
        for number in range(len(self._marks) * BETWEEN_MARKS, len(self._events)):
            self._count(self._events[number])
            if (number + 1) % BETWEEN_MARKS == 0:
                self._marks.append(dict(self._courses))

    def _count(self, event: LotResults | Decision) -> None:
        """One event more."""
        if isinstance(event, Decision):
            self._extend(event.subject, event.override)
            return
        for subject, inspected in decoded_results(event.lot, event.results).items():
            self._extend(subject, inspected)

    def _extend(self, subject: Subject, event: Inspected | Override) -> None:
        course = self.course(subject)
        more = follow([event], course.standing)
        self._courses[subject] = SwitchingHistory(standing=more.standing, switches=course.switches + more.switches)


def _place(event: LotResults | Decision) -> tuple[datetime, bool, str]:
    """Where an event stands among the others: by its moment, decisions first, then by id."""
    if isinstance(event, Decision):
        return event.at, False, event.override.id
    return event.at, True, event.lot
