"""The rule for which revision of a grade is in force."""

from collections.abc import Iterable

from service.ports.catalogue import Final, Moment, Withdrawn


def in_force(revisions: Iterable[Final], at: Moment) -> Final | None:
    """Return the revision in force: of those released and effective by `at`, the latest effective; of equals the highest."""
    begun = [each for each in revisions if each.released_at <= at and each.effective_from <= at]
    if not begun:
        return None
    newest = max(begun, key=lambda each: (each.effective_from, each.number))
    # A withdrawal leaves no revision in force: an older one does not come back unasked.
    return None if isinstance(newest, Withdrawn) and newest.withdrawn_at <= at else newest


def next_change(revisions: Iterable[Final], after: Moment) -> Moment | None:
    """Return the next moment at which the revision in force changes by time alone; None if it does not."""
    # Of withdrawn ones too: at that moment the older revision ends, and none is in force.
    coming = [each.effective_from for each in revisions if each.effective_from > after]
    return min(coming, default=None)
