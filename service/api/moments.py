"""Moments as callers write them, converted to UTC."""

import re
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import Annotated, NamedTuple

import msgspec
from msgspec import Meta, UnsetType

from service.api.strict.shapes import check_shape
from service.engine.documents import Flaw, FlawedDocumentError
from service.engine.lot import day_of, no_such_day

Moment = Annotated[datetime, Meta(tz=True)]
DayOrMoment = Annotated[str, Meta(max_length=40, extra_json_schema={"anyOf": [{"format": "date-time"}, {"format": "date"}]})]
"""A moment with an offset, or a day, which is that day in the zone of the settings."""
_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}\Z")
_OUTSIDE = datetime.min.replace(tzinfo=UTC)
"""In place of a moment that is outside the years 1 to 9999 in UTC."""


def in_utc(moment: datetime | UnsetType | None, at: str) -> datetime | None:
    """The moment in UTC; None where none is given.

    at  JSON Pointer for the flaw

    Raises FlawedDocumentError where it is outside the years 1 to 9999 in UTC, which its offset can cause.
    """
    try:
        return moment.astimezone(UTC) if moment else None
    except OverflowError as error:
        raise FlawedDocumentError([_outside(at)]) from error


class Period(NamedTuple):
    """The moments of a period in UTC, from `start` until before `end`; None where a side is open."""

    start: datetime | None
    end: datetime | None


def day_or_moment_flaws(text: str, at: str) -> list[Flaw]:
    """The flaw of a parameter that is neither a moment with an offset nor a day of the calendar."""
    if _DAY.match(text):
        return [] if day_of(text) else [no_such_day(text, at)]
    return check_shape(text, Moment, at)


def period_of(from_: str | None, until: str | None, zone: tzinfo) -> Period:
    """The period of two parameters; a bare day is all of that day in the zone, also as the end.

    Raises FlawedDocumentError where a side is outside the years 1 to 9999 in UTC, or the end is before the beginning.
    """
    begins, ends = (_in_zone(from_, zone, 0), _in_zone(until, zone, 1))
    flaws = [_outside(f"/{name}") for name, moment in (("from", begins), ("until", ends)) if moment is _OUTSIDE]
    if flaws:
        raise FlawedDocumentError(flaws)
    are_days = from_ and until and _DAY.match(from_) and _DAY.match(until)
    if begins and ends and (begins > ends or (are_days and begins == ends)):
        raise FlawedDocumentError([_upside_down("from", "until")])
    return Period(begins, ends)


def days_flaws(first: str | None, last: str | None, names: tuple[str, str]) -> list[Flaw]:
    """The flaws of two days: not in the calendar, or the last one before the first."""
    given = [(day, f"/{name}") for day, name in zip((first, last), names, strict=True) if day]
    flaws = [no_such_day(day, at) for day, at in given if day_of(day) is None]
    return flaws or ([_upside_down(*names)] if first and last and first > last else [])


def today(zone: tzinfo) -> date:
    """Today in this zone."""
    return datetime.now(zone).date()


def _in_zone(text: str | None, zone: tzinfo, days: int) -> datetime | None:
    """The moment in UTC, for a bare day its beginning so many days later; _OUTSIDE where there is none."""
    if text is None:
        return None
    try:
        if _DAY.match(text):
            day = date.fromisoformat(text) + timedelta(days=days)
            return datetime.combine(day, time.min, zone).astimezone(UTC)
        return msgspec.convert(text, Moment).astimezone(UTC)
    except OverflowError:
        return _OUTSIDE


def _outside(at: str) -> Flaw:
    text = "In UTC this is outside the years 1 to 9999. Give another date and time."
    return Flaw("not-a-moment", text, at)


def _upside_down(first: str, last: str) -> Flaw:
    text = f"`{last}` is before `{first}`, so the period has no time in it. Exchange the two, or correct one."
    return Flaw("period-upside-down", text, f"/{last}")
