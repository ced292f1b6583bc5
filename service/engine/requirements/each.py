"""The kind `each`: at most so many values are outside limits, and none is outside the outer ones."""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import NamedTuple

from msgspec import UNSET, UnsetType

from service.engine.bounds import Bounds, Side, allowed_flaws, bounds_of, limits_flaws, outer_flaws
from service.engine.characteristics import CompiledCharacteristic
from service.engine.columns import Column
from service.engine.flaws import Flaw
from service.engine.limits import Allowed, Limits, Outer
from service.engine.lots import Lot, Pointers, Readings
from service.engine.numerals import exact, nearest_double, plain
from service.engine.requirements.documents import Measured
from service.engine.requirements.measuring import MeasuredRule, measured_flaws, measured_parts
from service.engine.requirements.wording import beside, on_a_limit
from service.engine.verdict import Finding, MeasuredValue, Outcome, Reason


class Each(Measured, frozen=True, kw_only=True, tag="each"):
    """At most so many values are outside the limits, and none is outside the outer ones."""

    limits: Limits
    allowed_outside: Allowed | UnsetType = UNSET
    outer: Outer | UnsetType = UNSET


AT_VALUE = Pointers(("/value",), 1)
"""Where the one reading of a check stands."""


class Decisive(NamedTuple):
    """The value that gives the margin, the limits that it is measured from, and the side of them that is nearest."""

    value: Fraction
    bounds: Bounds
    side: Side

    @property
    def margin(self) -> Fraction:
        """How far inside it is, exactly; negative outside."""
        return self.side.margin(self.value)


class Values(NamedTuple):
    """The values as they are compared and as they were before rounding, and which of them are outside."""

    compared: Column
    observed: Column
    outside: Sequence[int]
    beyond: Sequence[int]
    allowed: int


class EachRule(MeasuredRule, frozen=True, kw_only=True):
    """The same, ready to judge."""

    bounds: Bounds
    outer: Bounds | None
    allowed_count: int
    allowed_percent: Fraction | None
    allowed_pointer: str

    @property
    def allows_some(self) -> bool:
        """True where any value at all may be outside."""
        return self.allowed_count > 0 or bool(self.allowed_percent)

    def allowed(self, count: int) -> int:
        """How many of so many values may be outside, a percentage rounded down."""
        return self.allowed_count if self.allowed_percent is None else int(self.allowed_percent * count // 100)

    def judge(self, lot: Lot) -> Finding:
        """Pass, fail, or undecided while the sample is short and a further reading could still save it."""
        lack, readings = self.lack(lot), lot.readings(self.of)
        if readings is None:
            assert lack  # noqa: S101  a sample without readings is short
            return self.undecided(lack)
        values = self._values(readings)
        reasons = list(self._broken(values, readings, is_complete=lack is None))
        if lack and not reasons:
            return self.undecided(lack)
        decisive = self._decisive(values)
        measured = self._measured(values, decisive, readings)
        margin = decisive.side.distance(decisive.value) if decisive else UNSET
        if reasons:
            return self.finding(Outcome.FAIL, reasons, self.resolved, measured, margin)
        return self.finding(Outcome.PASS, [self._within(values, decisive, readings)], self.resolved, measured, margin)

    def check(self, value: Fraction) -> Finding:
        """What one reading by itself comes to; where some of a lot may be outside, one outside decides nothing."""
        compared = self.rounded(value)
        side, outer = self.bounds.nearest(compared), self.outer
        measured = MeasuredValue(
            statistic="reading",
            value=nearest_double(compared),
            unit=self.of.symbol,
            observed=nearest_double(value) if self.rounding else UNSET,
        )
        reasons = [on_a_limit(f"This {self.of.words}, {self.as_rounded}", compared, side, self.of.symbol, AT_VALUE)]
        if side.is_met(compared):
            return self.finding(Outcome.PASS, reasons, self.resolved, measured, side.distance(compared))
        beyond = outer is not None and outer.margin(compared) < 0
        if self.allows_some and not beyond:
            return self.finding(Outcome.UNDECIDED, [self._outside_if_allowed(compared, side)], self.resolved, measured)
        if outer and beyond:
            by_outer = self._one_beyond_outer(compared, outer)
            if self.allows_some:
                return self.finding(
                    Outcome.FAIL, [by_outer], self.resolved, measured, outer.nearest(compared).distance(compared)
                )
            reasons.append(by_outer)
        return self.finding(Outcome.FAIL, reasons, self.resolved, measured, side.distance(compared))

    def _outside_if_allowed(self, value: Fraction, side: Side) -> Reason:
        shown, where = beside(value, side, self.of.symbol)
        may = f"{self.allowed_count}" if self.allowed_percent is None else f"{plain(self.allowed_percent)} %"
        what = f"This {self.of.words}, {self.as_rounded}{shown}, {where}"
        text = f"{what}; up to {may} of a lot's readings may be outside, so the lot decides."
        parameters = {
            "value": nearest_double(value),
            "limit": side.reported,
            "unit": self.of.symbol,
            "by": abs(side.distance(value)),
        }
        return Reason("outside-if-allowed", text, parameters, self.allowed_pointer, AT_VALUE.first, AT_VALUE.total)

    def _one_beyond_outer(self, value: Fraction, outer: Bounds) -> Reason:
        side = outer.nearest(value)
        shown, where = beside(value, side, self.of.symbol, "outer limit")
        text = f"This {self.of.words}, {self.as_rounded}{shown}, {where}, which no reading may be."
        parameters = {
            "value": nearest_double(value),
            "limit": side.reported,
            "unit": self.of.symbol,
            "by": abs(side.distance(value)),
        }
        return Reason("beyond-outer", text, parameters, side.pointer, AT_VALUE.first, AT_VALUE.total)

    def _values(self, readings: Readings) -> Values:
        observed = readings.values(self.over)
        compared = observed.rounded(self.rounding.step, self.rounding.ties) if self.rounding else observed
        outside = compared.outside(*self.bounds.limits)
        beyond = compared.outside(*self.outer.limits) if self.outer else ()
        return Values(compared, observed, outside, beyond, self.allowed(compared.count))

    def _broken(self, values: Values, readings: Readings, *, is_complete: bool) -> Iterator[Reason]:
        """Why it fails; while the sample is short, only what no further reading could mend.

        A package's mean can still change, and so can the number that a percentage allows; a count of readings cannot.
        """
        is_final = is_complete or self.over == "readings"
        if len(values.outside) > values.allowed and (is_complete or (is_final and self.allowed_percent is None)):
            yield self._too_many_outside(values, readings)
        if values.beyond and is_final:
            yield self._beyond_outer(values, readings)

    def _decisive(self, values: Values) -> Decisive | None:
        """The value nearest to failing, after those that may be outside; None where all may be and there is no outer limit."""
        by_limits = self._worst(values, self.bounds, values.allowed) if values.allowed < values.compared.count else None
        by_outer = self._worst(values, self.outer, 0) if self.outer else None
        if by_limits and by_outer:
            return by_outer if by_outer.margin < by_limits.margin else by_limits
        return by_limits or by_outer

    @staticmethod
    def _worst(values: Values, bounds: Bounds, rank: int) -> Decisive:
        value = values.compared.worst(*bounds.limits, rank)
        return Decisive(value, bounds, bounds.nearest(value))

    def _measured(self, values: Values, decisive: Decisive | None, readings: Readings) -> MeasuredValue:
        """The decisive value, and how many are outside."""
        observed = self._observed(values, decisive) if decisive and self.rounding else None
        return MeasuredValue(
            statistic="reading" if self.over == "readings" else "package_mean",
            value=nearest_double(decisive.value) if decisive else UNSET,
            unit=self.of.symbol,
            observed=UNSET if observed is None else float(observed),
            readings=readings.count,
            packages=readings.packages,
            outside=len(values.outside),
            allowed=values.allowed,
        )

    def _observed(self, values: Values, decisive: Decisive) -> Fraction:
        """The decisive value before rounding: the same one of those that were rounded to it, in the order of their margins."""
        rank = values.allowed if decisive.bounds is self.bounds else 0
        margin = decisive.bounds.margin
        pairs = zip(values.compared.exact_values(), values.observed.exact_values(), strict=True)
        return sorted((margin(compared), compared, margin(observed), observed) for compared, observed in pairs)[rank][3]

    def _subject(self, number: int, total: int) -> str:
        """The start of a sentence: `2 of 10 readings of breaking force are`."""
        what = "readings" if self.over == "readings" else "package means"
        return f"{number} of {total} {what} of {self.of.words} {'is' if number == 1 else 'are'}"

    def _too_many_outside(self, values: Values, readings: Readings) -> Reason:
        outside, total, unit = len(values.outside), values.compared.count, self.of.symbol
        value = values.compared.worst(*self.bounds.limits, 0)
        shown, where = beside(value, self.bounds.nearest(value), unit)
        may = "none may be" if values.allowed == 0 else f"at most {values.allowed} may be"
        text = f"{self._subject(outside, total)} outside the limits, and {may}; the worst, {self.as_rounded}{shown}, {where}."
        parameters = {
            "outside": outside,
            "allowed": values.allowed,
            "values": total,
            "worst": nearest_double(value),
            "unit": unit,
        }
        at = readings.pointers(values.outside, self.over)
        return Reason("too-many-outside", text, parameters, self.allowed_pointer, at.first, at.total)

    def _beyond_outer(self, values: Values, readings: Readings) -> Reason:
        assert self.outer  # noqa: S101  nothing is beyond an outer limit that is not there
        value = values.compared.worst(*self.outer.limits, 0)
        side = self.outer.nearest(value)
        shown, where = beside(value, side, self.of.symbol, "outer limit")
        number = len(values.beyond)
        head = f"{self._subject(number, values.compared.count)} beyond the outer limits"
        text = f"{head}; the worst, {self.as_rounded}{shown}, {where}."
        parameters = {"beyond": number, "value": nearest_double(value), "limit": side.reported, "unit": self.of.symbol}
        at = readings.pointers(values.beyond, self.over)
        return Reason("beyond-outer", text, parameters, side.pointer, at.first, at.total)

    def _within(self, values: Values, decisive: Decisive | None, readings: Readings) -> Reason:
        outside, total, at = len(values.outside), values.compared.count, readings.all_pointers()
        what = "reading" if self.over == "readings" else "package mean"
        if outside == 0:
            counted_words = f"All {total} {what}s of {self.of.words} are" if total > 1 else f"The {what} of {self.of.words} is"
            head = f"{counted_words} within the limits"
        else:
            head = f"{self._subject(outside, total)} outside the limits, and {values.allowed} may be"
        parameters: dict[str, object] = {"outside": outside, "allowed": values.allowed, "values": total}
        if decisive is None:
            return Reason("within", f"{head}.", parameters, self.allowed_pointer, at.first, at.total)
        side = decisive.bounds.nearest(decisive.value)
        shown, where = beside(
            decisive.value, side, self.of.symbol, "limit" if decisive.bounds is self.bounds else "outer limit"
        )
        parameters |= {
            "value": float(decisive.value),
            "limit": side.reported,
            "unit": self.of.symbol,
            "by": side.distance(decisive.value),
        }
        which = "it" if total == 1 else "the one that decides"
        return Reason(
            "within", f"{head}; {which}, {self.as_rounded}{shown}, {where}.", parameters, side.pointer, at.first, at.total
        )


def flaws(document: Each, of: CompiledCharacteristic, at: str) -> Iterator[Flaw]:
    """What is wrong with it."""
    yield from measured_flaws(document, of, at)
    yield from limits_flaws(document.limits, of, f"{at}/limits")
    if not isinstance(document.allowed_outside, UnsetType):
        yield from allowed_flaws(document.allowed_outside, f"{at}/allowed_outside")
    if not isinstance(document.outer, UnsetType):
        yield from outer_flaws(document.outer, document.limits, of, f"{at}/outer")


def compiled(document: Each, of: CompiledCharacteristic, pointer: str) -> EachRule:
    """Ready to judge; the document has no flaws."""
    allowed = Allowed(count=0) if isinstance(document.allowed_outside, UnsetType) else document.allowed_outside
    bounds = bounds_of(document.limits, f"{pointer}/limits")
    outer = None if isinstance(document.outer, UnsetType) else bounds_of(document.outer, f"{pointer}/outer")
    return EachRule(
        bounds=bounds,
        outer=outer,
        allowed_count=allowed.count or 0,
        allowed_percent=None if isinstance(allowed.percent, UnsetType) else exact(allowed.percent),
        allowed_pointer=f"{pointer}/limits" if document.allowed_outside is UNSET else f"{pointer}/allowed_outside",
        resolved=bounds.resolved(of.symbol, outer),
        **measured_parts(document, of, pointer),
    )
