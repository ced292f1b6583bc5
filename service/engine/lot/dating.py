"""The dates of evidence: days of the local calendar, each of an event that the grade goes by."""

from collections.abc import Collection, Iterator, Mapping
from datetime import date

from service.engine.documents import Evidence, Flaw, did_you_mean, listed, quoted

Dates = Mapping[str, tuple[int, date]]
"""(number in the evidence, day) by event."""


def dates_of(evidence: Evidence) -> dict[str, tuple[int, date]]:
    """The day of each event; of an event that is dated twice the first, and none for what is no day of the calendar."""
    found: dict[str, tuple[int, date]] = {}
    for number, each in enumerate(evidence.dates or ()):
        if day := day_of(each.date):
            found.setdefault(each.event, (number, day))
    return found


def day_of(text: str) -> date | None:
    """The day that is written as `2026-11-25`; None where the calendar has no such day."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None


def date_flaws(evidence: Evidence, events: Collection[str]) -> Iterator[Flaw]:
    """What is wrong with the dates one by one.

    events  that a requirement of the grade goes by
    """
    first: dict[str, int] = {}
    for number, each in enumerate(evidence.dates or ()):
        at = f"/dates/{number}"
        if each.event not in events:
            yield _unknown_event(each.event, events, f"{at}/event")
        elif each.event in first:
            text = f"{each.event} is dated already, at /dates/{first[each.event]}. Leave one of the two."
            yield Flaw("dated-twice", text, f"{at}/event")
        first.setdefault(each.event, number)
        if day_of(each.date) is None:
            yield no_such_day(each.date, f"{at}/date")


def no_such_day(text: str, at: str) -> Flaw:
    """The calendar does not have it."""
    return Flaw("no-such-day", f"{quoted(text)} is no day of the calendar. Write it as 2025-06-01.", at)


def _unknown_event(event: str, events: Collection[str], at: str) -> Flaw:
    """No requirement of the grade goes by it."""
    if not events:
        text = f"No requirement of the grade goes by a date, so that of {quoted(event)} says nothing. Leave it out."
        return Flaw("unknown-event", text, at)
    remedy = did_you_mean(event, events) or f" It goes by {listed(sorted(events), 'and')}."
    return Flaw("unknown-event", f"No requirement of the grade goes by the date of {quoted(event)}.{remedy}", at)
