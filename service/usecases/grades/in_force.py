"""Which revision of a grade is in force at a moment."""

from collections.abc import Iterable

from service.ports.catalogue import Final, Moment, Withdrawn


def in_force(revisions: Iterable[Final], at: Moment) -> Final | None:
    """The revision in force: of those released by then the one with the latest effective moment not after it, then number.

    If that one is withdrawn by then, none is: an older one does not come back by itself.
    """
    begun = [each for each in revisions if each.released_at <= at and each.effective_from <= at]
    if not begun:
        return None
    newest = max(begun, key=lambda each: (each.effective_from, each.number))
    return None if isinstance(newest, Withdrawn) and newest.withdrawn_at <= at else newest


def next_change(revisions: Iterable[Final], after: Moment) -> Moment | None:
    """The next moment at which another revision, or none, comes into force by time alone; None where nothing is to come.

    The moment of a withdrawn one counts too: when it comes, none is in force, and the older one ends.
    """
    coming = [each.effective_from for each in revisions if each.effective_from > after]
    return min(coming, default=None)
