"""The kind `age`: the days between two dated events are within limits."""

from collections.abc import Iterator, Sequence
from datetime import date
from fractions import Fraction
from typing import Literal

from msgspec import UNSET, UnsetType, field

from service.engine.characteristics import Bounds, CompiledCharacteristic, Limits, Pointers, bounds_of, member_of
from service.engine.documents import (
    Evidence,
    Finding,
    Flaw,
    MeasuredValue,
    Name,
    Outcome,
    Reason,
    ResolvedLimits,
    listed,
    quoted,
)
from service.engine.lot import Dates, Lot, dates_of
from service.engine.numbers import UNITS
from service.engine.requirements.documents import Requirement
from service.engine.requirements.grade_context import GradeContext
from service.engine.requirements.limits.flaws import fixed_limits_flaws
from service.engine.requirements.limits.guarding import decision_not_here
from service.engine.requirements.rules import Rule, common_fields
from service.engine.requirements.wording import limit_parameters, limit_reason

DAY = UNITS["d"]
AGE = CompiledCharacteristic("", "age", DAY.quantity, DAY, None, None, {})
"""A time in days, never negative: what the limits of an age are checked against when a specification is compiled."""


class Age(Requirement, frozen=True, kw_only=True, tag="age"):
    """The days from one event to another, by the local calendar, are within the limits.

    How long twine may be stored is a term of the contract; no law on it was found. For lots that may still be sold after a
    retest, `past` makes a lot that is too old undecided, and `restarted_by` counts the days from the retest instead.
    """

    from_: Name = field(name="from")
    to: Name
    limits: Limits
    """In days."""
    past: Literal["fail", "undecided"] | UnsetType = UNSET
    """The outcome of a lot beyond the upper limit; `fail` where left out."""
    restarted_by: Name | UnsetType = UNSET
    """The event from which the days are counted instead, where it has a date that is later than that of `from`."""


class AgeRule(Rule, frozen=True, kw_only=True):
    """A compiled requirement of the kind `age`."""

    start: str
    end: str
    restart: str | None
    bounds: Bounds
    resolved: ResolvedLimits
    is_retested_when_past: bool

    @property
    def events(self) -> Sequence[str]:
        """The two events, and the one that restarts the count of days, if the grade names one."""
        return (self.start, self.end, *((self.restart,) if self.restart else ()))

    def flaws_in(self, evidence: Evidence) -> Iterator[Flaw]:
        """Dates in the wrong order: an end before its start, or a retest after the end."""
        dates = dates_of(evidence)
        if self.end not in dates:
            return
        number, day = dates[self.end]
        if self.start in dates and day < dates[self.start][1]:
            at = f"/dates/{number}/date"
            yield self._wrong_order(self.end, day, self.start, dates[self.start][1], at, "to")
        if self.restart and self.restart in dates and day < dates[self.restart][1]:
            other, later = dates[self.restart]
            yield self._wrong_order(self.end, day, self.restart, later, f"/dates/{other}/date", "restarted_by")

    def judge(self, lot: Lot) -> Finding:
        """Pass, fail, or undecided while a date is missing, and past the upper limit where the grade says so."""
        # Dates are days of the calendar, so their difference needs no time zone.
        if missing := [event for event in (self.start, self.end) if event not in lot.dates]:
            return self.finding(Outcome.UNDECIDED, [self._date_missing(missing, lot.dates)], self.resolved)
        start = self._counted_from(lot.dates)
        days = (lot.dates[self.end][1] - lot.dates[start][1]).days
        measured = MeasuredValue(statistic="age", value=days, unit=DAY.symbol)
        side = self.bounds.nearest(Fraction(days))
        position = side.standing(Fraction(days))
        subject, at = f"The age from {quoted(start)} to {quoted(self.end)}, ", self._places(lot.dates)
        # Only the upper side: a lot that is too young has to wait, and no retest makes it older.
        if self.is_retested_when_past and side is self.bounds.upper and not position.is_met:
            also = f", and give the day as {quoted(self.restart)} in `dates`" if self.restart else ""
            text = f"{subject}{position.shown}, {position.where}, so the lot is due for a retest. Retest it{also}."
            reason = Reason("retest-due", text, limit_parameters(position, side), side.pointer, at.first, at.total)
            return self.finding(Outcome.UNDECIDED, [reason], self.resolved, measured)
        outcome = Outcome.PASS if position.is_met else Outcome.FAIL
        return self.finding(outcome, [limit_reason(subject, position, side, at)], self.resolved, measured, position.distance)

    def _counted_from(self, dates: Dates) -> str:
        """The event from which the days are counted."""
        restart = self.restart or self.start
        return restart if restart in dates and dates[restart][1] > dates[self.start][1] else self.start

    def _places(self, dates: Dates) -> Pointers:
        """Pointers to the dates that decide the age, in the order of the evidence."""
        numbers = sorted(dates[event][0] for event in self.events if event in dates)
        return Pointers([f"/dates/{number}" for number in numbers], len(numbers))

    def _date_missing(self, missing: Sequence[str], dates: Dates) -> Reason:
        """The reason where one or both of the two dates are missing."""
        events, it = listed(missing, "and"), "it" if len(missing) == 1 else "them"
        text = f"No date of {events} is given, and the age is counted from {quoted(self.start)} to {quoted(self.end)}."
        at = self._places(dates)
        return Reason("date-missing", f"{text} Give {it} in `dates`.", {"events": missing}, self.pointer, at.first, at.total)

    def _wrong_order(self, end: str, day: date, other: str, later: date, at: str, member: str) -> Flaw:
        """The flaw of an `end` that is dated before `other`, at the pointer `at`; `member` is the rule's name for it."""
        text = f"The date of {quoted(end)}, {day}, is before that of {quoted(other)}, {later}. Correct one of the two."
        return Flaw("dates-in-wrong-order", text, at, f"{self.pointer}/{member}")


def flaws(document: Age, context: GradeContext, at: str) -> Iterator[Flaw]:
    """The flaws of the document; `at` is its place in the specification."""
    events = {"from": document.from_, "to": document.to, "restarted_by": document.restarted_by}
    member_by_event: dict[object, str] = {}
    for member, event in events.items():
        if event in member_by_event:
            text = f"`{member}` is the same event as `{member_by_event[event]}`, {quoted(event)}. Name another event."
            yield Flaw("event-twice", text, f"{at}/{member}")
        if event is not UNSET:
            member_by_event.setdefault(event, member)
    # A date has no uncertainty of measurement, so there is nothing that a guard band could be made from.
    yield from decision_not_here(document.decision, "age", at)
    yield from fixed_limits_flaws(document.limits, AGE, f"{at}/limits")
    if document.past is not UNSET and member_of(document.limits, "upper") is None and document.limits.plus is UNSET:
        text = "`limits` has no upper side, so no lot can be past it. Give an upper limit, or remove `past`."
        yield Flaw("past-without-upper", text, f"{at}/past")


def compiled(document: Age, context: GradeContext, pointer: str) -> AgeRule:
    """The compiled requirement; `document` has no flaws, and `pointer` is its place in the specification."""
    # Days are whole, so sentences show none with a decimal.
    bounds = bounds_of(document.limits, DAY.symbol, f"{pointer}/limits").of_whole_values()
    return AgeRule(
        start=document.from_,
        end=document.to,
        restart=document.restarted_by or None,
        bounds=bounds,
        resolved=bounds.resolved(DAY.symbol),
        is_retested_when_past=document.past == "undecided",
        **common_fields(document, pointer, context.package),
    )
