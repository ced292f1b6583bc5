"""The dates of evidence: days of the local calendar, each of an event on which a requirement of the grade depends."""

from collections.abc import Collection, Iterator, Mapping
from datetime import date

from service.engine.documents import Evidence, Flaw, did_you_mean, listed, quoted

Dates = Mapping[str, tuple[int, date]]
"""(index in the evidence, day) by event."""


def dates_of(evidence: Evidence) -> dict[str, tuple[int, date]]:
    """(index in the evidence, day) by event: the first where an event is dated twice; days not in the calendar are left out."""
    # Both are flaws that `date_flaws` reports; kinds that look for flaws of their own read the dates before that is settled.
    found: dict[str, tuple[int, date]] = {}
    for number, dated in enumerate(evidence.dates or ()):
        if day := day_of(dated.date):
            found.setdefault(dated.event, (number, day))
    return found


def day_of(text: str) -> date | None:
    """The day written as `2026-11-25`; None where the calendar has no such day."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None


def date_flaws(evidence: Evidence, events: Collection[str]) -> Iterator[Flaw]:
    """The flaws of the dates, each date for itself.

    events  those on which a requirement of the grade depends
    """
    first: dict[str, int] = {}
    for number, dated in enumerate(evidence.dates or ()):
        at = f"/dates/{number}"
        if dated.event not in events:
            yield _unknown_event(dated.event, events, f"{at}/event")
        elif dated.event in first:
            text = f"{quoted(dated.event)} is already dated at /dates/{first[dated.event]}. Remove one of the two."
            yield Flaw("dated-twice", text, f"{at}/event")
        first.setdefault(dated.event, number)
        if day_of(dated.date) is None:
            yield no_such_day(dated.date, f"{at}/date")


def no_such_day(text: str, at: str) -> Flaw:
    """The flaw of a date that the calendar does not have."""
    return Flaw("no-such-day", f"{quoted(text)} is not a day of the calendar. Write it as 2025-06-01.", at)


def _unknown_event(event: str, events: Collection[str], at: str) -> Flaw:
    """The flaw of an event on which no requirement of the grade depends."""
    if not events:
        text = f"No requirement of the grade depends on a date, so that of {quoted(event)} changes nothing. Remove it."
        return Flaw("unknown-event", text, at)
    remedy = did_you_mean(event, events) or f" It depends on {listed(sorted(events), 'and')}."
    return Flaw("unknown-event", f"No requirement of the grade depends on the date of {quoted(event)}.{remedy}", at)
