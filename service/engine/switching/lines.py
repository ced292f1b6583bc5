"""The history of a line, from its lots and the decisions on it: the inspection state of each class, and its switches.

Lots are ordered by the moment of their first verdict, and a lot's newest verdict counts: a correction counts in the place of
what it corrects, and everything after it is calculated again.
"""

from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import NamedTuple

from service.engine.switching.following import Inspected, Override, SwitchingHistory, SwitchingState, switching_history
from service.engine.switching.results import Subject
from service.engine.switching.stored_results import decoded_results

NO_HISTORY = SwitchingHistory(standing=SwitchingState(), switches=[])
CHECKPOINT_INTERVAL = 128
"""Number of events between two checkpoints, which bounds what is calculated again for an event that belongs among the last."""
Histories = Mapping[Subject, SwitchingHistory]


class LotResults(NamedTuple):
    """The results of a lot by one of its verdicts, as the switching rules need them."""

    at: datetime
    """Moment of the lot's first verdict."""
    lot: str
    verdict: int
    """Number of the verdict; of several on a lot the greatest counts."""
    results: bytes
    """The results as stored beside the verdict, as JSON."""


class Decision(NamedTuple):
    """A decision on a class."""

    at: datetime
    subject: Subject
    override: Override


class LineHistory:
    """A line's known lots and decisions; events can be added in any order and more than once, with the same result."""

    def __init__(self) -> None:
        """Start without events."""
        self._events: list[LotResults | Decision] = []
        self._histories: dict[Subject, SwitchingHistory] = {}
        # Checkpoints share the histories in them, which are never changed in place, so each costs one dictionary.
        self._checkpoints: list[Histories] = []
        """The histories after each `CHECKPOINT_INTERVAL` events."""

    @property
    def events(self) -> int:
        """Number of events."""
        return len(self._events)

    @property
    def subjects(self) -> Sequence[Subject]:
        """All classes and requirements that have events, sorted."""
        return sorted(self._histories)

    def course(self, subject: Subject) -> SwitchingHistory:
        """The history of a class; one without switches under normal inspection where it has no events."""
        return self._histories.get(subject, NO_HISTORY)

    def take(self, events: Iterable[LotResults | Decision]) -> None:
        """Add events, and calculate again everything behind the first of them."""
        first = len(self._events)
        for event in events:
            first = min(first, self._insert(event))
        if first < len(self._events):
            self._calculate_from(first)

    def _insert(self, event: LotResults | Decision) -> int:
        """Insert an event in its order; its index, or the number of events where nothing changed."""
        place = bisect_left(self._events, _sort_key(event), key=_sort_key)
        present = self._events[place] if place < len(self._events) else None
        # Readers overlap and may add in another order than they read, so an older verdict must not replace a newer one.
        if present is None or _sort_key(present) != _sort_key(event):
            self._events.insert(place, event)
        elif isinstance(present, LotResults) and isinstance(event, LotResults) and event.verdict > present.verdict:
            self._events[place] = event
        else:
            return len(self._events)
        return place

    def _calculate_from(self, first: int) -> None:
        """Calculate the histories again, from the last checkpoint before the event with this index."""
        del self._checkpoints[first // CHECKPOINT_INTERVAL :]
        self._histories = dict(self._checkpoints[-1]) if self._checkpoints else {}
        for number in range(len(self._checkpoints) * CHECKPOINT_INTERVAL, len(self._events)):
            self._apply(self._events[number])
            if (number + 1) % CHECKPOINT_INTERVAL == 0:
                self._checkpoints.append(dict(self._histories))

    def _apply(self, event: LotResults | Decision) -> None:
        """Extend the histories that an event concerns."""
        if isinstance(event, Decision):
            self._extend(event.subject, event.override)
            return
        for subject, inspected in decoded_results(event.lot, event.results).items():
            self._extend(subject, inspected)

    def _extend(self, subject: Subject, event: Inspected | Override) -> None:
        history = self.course(subject)
        more = switching_history([event], history.standing)
        self._histories[subject] = SwitchingHistory(standing=more.standing, switches=history.switches + more.switches)


def _sort_key(event: LotResults | Decision) -> tuple[datetime, bool, str]:
    """The order of events: by moment, decisions first, then by id."""
    if isinstance(event, Decision):
        return event.at, False, event.override.id
    return event.at, True, event.lot
