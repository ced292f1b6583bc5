"""The kind `each`: at most so many values are outside limits, and none is outside the outer ones."""

from collections.abc import Iterator, Sequence
from fractions import Fraction

from msgspec import UNSET, Struct, UnsetType
from msgspec.structs import replace

from service.engine.characteristics import (
    Allowed,
    Bounds,
    ExpandedUncertainty,
    LimitSide,
    Outer,
    Pointers,
    Position,
    Readings,
    allowed_flaws,
    bounds_of,
    outer_flaws,
)
from service.engine.documents import Finding, Flaw, MeasuredValue, Missing, Outcome, Reason, ResolvedLimits, counted
from service.engine.lot import Lot
from service.engine.numbers import Column, WholeColumn, exact, nearest_double, plain
from service.engine.requirements.allowing import AllowingRule
from service.engine.requirements.documents import Limited
from service.engine.requirements.grade_context import GradeContext
from service.engine.requirements.limits.dependence import LotLimits
from service.engine.requirements.limits.flaws import all_limits_flaws
from service.engine.requirements.limits.guarding import Guard, decision_flaws, guarded
from service.engine.requirements.limits.rules import limited_parts
from service.engine.requirements.measuring import measured_flaws
from service.engine.requirements.outside_marks import judge_with_outside_marks, with_outside_marks
from service.engine.requirements.wording import beside, on_a_limit


class Each(Limited, frozen=True, kw_only=True, tag="each"):
    """At most so many values are outside the limits, and none is outside the outer ones."""

    allowed_outside: Allowed | UnsetType = UNSET
    outer: Outer | UnsetType = UNSET


AT_VALUE = Pointers(("/value",), 1)
"""Where the one reading of a check stands."""


class Decisive(Struct, frozen=True):
    """The value that gives the margin, the limits that it is measured from, and where it lies beside their nearest side."""

    value: Fraction
    bounds: Bounds
    side: LimitSide
    standing: Position


class Values(Struct, frozen=True):
    """The values before rounding and rounded, and which of them are outside as they are compared."""

    observed: Column
    rounded: WholeColumn | None
    outside: Sequence[int]
    beyond: Sequence[int]
    allowed: int

    @property
    def compared(self) -> Column:
        """The rounded ones where the requirement rounds."""
        return self.rounded or self.observed


class EachRule(AllowingRule, frozen=True, kw_only=True):
    """The same, ready to judge."""

    def resolved_by(self, bounds: Bounds) -> ResolvedLimits:
        """These limits and the outer ones."""
        return bounds.resolved(self.of.symbol, self.outer)

    def within(self, bounds: Bounds, expanded: ExpandedUncertainty, way: int) -> "EachRule":
        """The same requirement with its limits moved, the outer ones too."""
        outer = guarded(self.outer, expanded, way) if self.outer else None
        return replace(self, bounds=guarded(bounds, expanded, way), outer=outer, guard=None)

    def judge_within(self, lot: Lot) -> Finding:
        """Pass, fail, or undecided while the sample is short and a further reading could still save it."""
        if self.over == "readings" and (aside := lot.outside_marks.get(self.of.name)):
            return judge_with_outside_marks(self, aside, lot)
        lack, readings = self.lack(lot), lot.readings(self.of)
        if readings is None:
            assert lack
            return self.undecided(lack)
        values = self._values(readings)
        reasons: list[Reason] = []
        if values.outside or values.beyond:
            reasons.extend(self._broken(values, readings, is_complete=lack is None))
        if lack and not reasons:
            return self.undecided(lack)
        decisive = self._decisive(values)
        measured = self._measured(values, decisive, readings)
        margin = decisive.standing.distance if decisive else UNSET
        if reasons:
            return self.finding(Outcome.FAIL, reasons, self.resolved, measured, margin)
        return self.finding(Outcome.PASS, [self._within(values, decisive, readings)], self.resolved, measured, margin)

    def missing(self, lot: Lot) -> Sequence[Missing]:
        """What its sample lacks, of which a specimen that broke outside the marks is one all the same."""
        aside = lot.outside_marks.get(self.of.name) if self.over == "readings" else None
        return super().missing(with_outside_marks(self, aside, lot) if aside else lot)

    def used(self, lot: Lot) -> int:
        """How many readings of the lot's first sample are outside limits that are known before it.

        Where limits are guarded or worked out for the lot, none is counted: a reading more then decides nothing by itself.
        """
        readings = lot.readings(self.of)
        if readings is None or self.limits or self.guard:
            return 0
        return len(self._values(readings).outside)

    def check(self, value: Fraction, used: int = 0) -> Finding:
        """What one reading by itself comes to; where some of a lot may be outside, one outside decides nothing.

        used  so many readings of its lot are outside already; where no more may be, one more outside fails
        """
        if self.limits:
            return self._lot_has_limits(self.limits)
        if self.guard is None:
            return self._check_within(value, used)
        if self.guard.uncertainty is None:
            return self._check_without_uncertainty(self.guard)
        return self.guarded(self.guard, self.guard.uncertainty, lambda moved: moved._check_within(value))  # noqa: SLF001  of this class

    def _lot_has_limits(self, limits: LotLimits) -> Finding:
        side = limits.dependent[0]
        text = f"The {side.side} limit of {self.of.words} is worked out for each lot, so one reading decides nothing."
        return self.finding(Outcome.UNDECIDED, [Reason("limit-not-known", text, {"side": side.side}, side.pointer, *AT_VALUE)])

    def _check_without_uncertainty(self, guard: Guard) -> Finding:
        text = f"The limits are guarded by the uncertainty that each series states, so one {self.of.words} decides nothing."
        reason = Reason("uncertainty-missing", text, {}, guard.pointer, *AT_VALUE)
        return self.finding(Outcome.UNDECIDED, [reason], self.resolved)

    def _check_within(self, value: Fraction, used: int = 0) -> Finding:
        """By limits that are known."""
        observed: float | UnsetType = UNSET
        compared, subject = value, f"This {self.of.words}, "
        if self.rounding:
            compared, observed, subject = self.rounding.of(value), nearest_double(value), f"{subject}{self.as_rounded}"
        side, outer = self.bounds.nearest(compared), self.outer
        standing = side.standing(compared)
        measured = MeasuredValue(statistic="reading", value=standing.value, unit=side.unit, observed=observed)
        if standing.is_met:
            reasons = [on_a_limit(subject, standing, side, AT_VALUE)]
            return self.finding(Outcome.PASS, reasons, self.resolved, measured, standing.distance)
        farthest = outer.nearest(compared) if outer else None
        beyond = farthest.standing(compared) if farthest else standing
        is_beyond = farthest is not None and not beyond.is_met
        if self.allows_some and not is_beyond:
            return self._outside(standing, side, measured, used)
        reasons = [] if self.allows_some else [on_a_limit(subject, standing, side, AT_VALUE)]
        if farthest and is_beyond:
            text = f"{subject}{beyond.shown}, {beyond.where}, which no reading may be."
            reasons.append(Reason("beyond-outer", text, beside(beyond, farthest), farthest.pointer, *AT_VALUE))
        return self.finding(Outcome.FAIL, reasons, self.resolved, measured, (beyond if self.allows_some else standing).distance)

    def _outside(self, standing: Position, side: LimitSide, measured: MeasuredValue, used: int) -> Finding:
        """One outside where some may be: undecided, unless its lot has as many already. A percentage grows with the lot."""
        if self.allowed_percent is not None or used < self.allowed_count:
            reason = self._outside_if_allowed(standing, side, used)
            return self.finding(Outcome.UNDECIDED, [reason], self.resolved, measured)
        what = f"This {self.of.words}, {self.as_rounded}{standing.shown}, {standing.where}"
        may = f"{counted(self.allowed_count, 'reading')} of a lot may be outside, and this one has {used} already"
        parameters = {**beside(standing, side), "allowed": self.allowed_count, "used": used}
        reason = Reason("allowance-used-up", f"{what}; {may}.", parameters, self.allowed_pointer, *AT_VALUE)
        return self.finding(Outcome.FAIL, [reason], self.resolved, measured, standing.distance)

    def _outside_if_allowed(self, standing: Position, side: LimitSide, used: int) -> Reason:
        may = f"{self.allowed_count}" if self.allowed_percent is None else f"{plain(self.allowed_percent)} %"
        what = f"This {self.of.words}, {self.as_rounded}{standing.shown}, {standing.where}"
        already = f", and {used} of this one's {'is' if used == 1 else 'are'} already" if used else ""
        text = f"{what}; up to {may} of a lot's readings may be outside{already}, so the lot decides."
        parameters = beside(standing, side) | ({"used": used} if used else {})
        return Reason("outside-if-allowed", text, parameters, self.allowed_pointer, *AT_VALUE)

    def _values(self, readings: Readings) -> Values:
        observed = readings.values(self.over)
        rounded = observed.rounded(self.rounding.step, self.rounding.way) if self.rounding else None
        compared = rounded or observed
        outside = _outside(compared, self.bounds)
        beyond = compared.outside(*self.outer.limits) if self.outer else ()
        return Values(observed, rounded, outside, beyond, self.allowed(compared.count))

    def _broken(self, values: Values, readings: Readings, *, is_complete: bool) -> Iterator[Reason]:
        """Why it fails; while the sample is short, only what no further reading could mend.

        A package's mean can still change, and so can the number that a percentage allows; a count of readings cannot.
        """
        is_final = is_complete or self.over == "readings"
        if len(values.outside) > values.allowed and (is_complete or (is_final and self.allowed_percent is None)):
            yield self._too_many_outside(values, readings)
        if self.outer and values.beyond and is_final:
            yield self._beyond_outer(values, self.outer, readings)

    def _decisive(self, values: Values) -> Decisive | None:
        """The value nearest to failing, after those that may be outside; None where all may be and there is no outer limit."""
        by_limits = self._worst(values, self.bounds, values.allowed) if values.allowed < values.compared.count else None
        by_outer = self._worst(values, self.outer, 0) if self.outer else None
        if by_limits and by_outer:
            return by_outer if by_outer.side.margin(by_outer.value) < by_limits.side.margin(by_limits.value) else by_limits
        return by_limits or by_outer

    @staticmethod
    def _worst(values: Values, bounds: Bounds, rank: int) -> Decisive:
        value = values.compared.worst(*bounds.limits, rank)
        side = bounds.nearest(value)
        return Decisive(value, bounds, side, side.standing(value))

    def _measured(self, values: Values, decisive: Decisive | None, readings: Readings) -> MeasuredValue:
        """The decisive value, and how many are outside."""
        observed = self._observed(values, values.rounded, decisive) if decisive and values.rounded else None
        return MeasuredValue(
            statistic="reading" if self.over == "readings" else "package_mean",
            value=decisive.standing.value if decisive else UNSET,
            unit=self.of.symbol,
            observed=UNSET if observed is None else float(observed),
            readings=readings.count,
            packages=readings.packages,
            outside=len(values.outside),
            allowed=values.allowed,
        )

    def _observed(self, values: Values, rounded: WholeColumn, decisive: Decisive) -> Fraction:
        """The decisive value before rounding: the same one of those that were rounded to it, in the order of their margins."""
        rank = values.allowed if decisive.bounds is self.bounds else 0
        lower, upper = decisive.bounds.limits
        margin = decisive.side.margin(decisive.value)
        # Worse are those outside limits drawn in by this margin, and those on the lower of them where this is on the upper.
        drawn_in = None if lower is None else lower + margin
        worse = len(rounded.outside(drawn_in, None if upper is None else upper - margin))
        if drawn_in is not None and drawn_in != decisive.value:
            worse += len(rounded.places_of(drawn_in))
        return values.observed.picked(rounded.places_of(decisive.value)).worst(lower, upper, rank - worse)

    def _too_many_outside(self, values: Values, readings: Readings) -> Reason:
        outside, total = len(values.outside), values.compared.count
        worst = self._worst(values, self.bounds, 0).standing
        may = "none may be" if values.allowed == 0 else f"at most {values.allowed} may be"
        head = f"{self.subject(outside, total)} outside the limits, and {may}"
        text = f"{head}; the worst, {self.as_rounded}{worst.shown}, {worst.where}."
        numbers = {"outside": outside, "allowed": values.allowed, "values": total}
        parameters: dict[str, object] = {**numbers, "worst": worst.value, "unit": self.of.symbol}
        return Reason("too-many-outside", text, parameters, self.allowed_pointer, *readings.pointers(values.outside, self.over))

    def _beyond_outer(self, values: Values, outer: Bounds, readings: Readings) -> Reason:
        decisive = self._worst(values, outer, 0)
        worst, number = decisive.standing, len(values.beyond)
        head = f"{self.subject(number, values.compared.count)} beyond the outer limits"
        text = f"{head}; the worst, {self.as_rounded}{worst.shown}, {worst.where}."
        parameters = {"beyond": number, **beside(worst, decisive.side)}
        return Reason("beyond-outer", text, parameters, decisive.side.pointer, *readings.pointers(values.beyond, self.over))

    def _within(self, values: Values, decisive: Decisive | None, readings: Readings) -> Reason:
        outside, total, at = len(values.outside), values.compared.count, readings.all_pointers
        what = "reading" if self.over == "readings" else "package mean"
        if outside == 0:
            counted_words = f"All {total} {what}s of {self.of.words} are" if total > 1 else f"The {what} of {self.of.words} is"
            head = f"{counted_words} within the limits"
        else:
            head = f"{self.subject(outside, total)} outside the limits, and {values.allowed} may be"
        parameters: dict[str, object] = {"outside": outside, "allowed": values.allowed, "values": total}
        if decisive is None:
            return Reason("within", f"{head}.", parameters, self.allowed_pointer, *at)
        standing, which = decisive.standing, "it" if total == 1 else "the one that decides"
        text = f"{head}; {which}, {self.as_rounded}{standing.shown}, {standing.where}."
        return Reason("within", text, parameters | beside(standing, decisive.side), decisive.side.pointer, *at)


def _outside(values: Column, bounds: Bounds) -> Sequence[int]:
    """The places of the values outside; those on a limit that excludes its own value are."""
    outside = values.outside(*bounds.limits)
    if not bounds.excludes:
        return outside
    places = set(outside)
    for side in [side for side in bounds.sides if side.excludes]:
        # Outside the limits turned round is what lies truly inside; all else is on the limit, or beyond it.
        truly = values.outside(None, side.limit) if side.name == "lower" else values.outside(side.limit, None)
        places |= set(range(values.count)) - set(truly)
    return sorted(places)


def flaws(document: Each, context: GradeContext, at: str) -> Iterator[Flaw]:
    """What is wrong with it."""
    of = context.characteristic(document.of)
    yield from measured_flaws(document, of, at)
    yield from all_limits_flaws(document.limits, of, context, f"{at}/limits")
    yield from decision_flaws(document.decision, f"{at}/decision")
    if not isinstance(document.allowed_outside, UnsetType):
        yield from allowed_flaws(document.allowed_outside, f"{at}/allowed_outside")
    if not isinstance(document.outer, UnsetType):
        yield from outer_flaws(document.outer, document.limits, of, f"{at}/outer")


def compiled(document: Each, context: GradeContext, pointer: str) -> EachRule:
    """Ready to judge; the document has no flaws."""
    of = context.characteristic(document.of)
    allowed = Allowed(count=0) if isinstance(document.allowed_outside, UnsetType) else document.allowed_outside
    parts = limited_parts(document, context, pointer)
    bounds = parts["bounds"]
    outer = None if isinstance(document.outer, UnsetType) else bounds_of(document.outer, of.symbol, f"{pointer}/outer")
    return EachRule(
        outer=outer,
        allowed_count=allowed.count or 0,
        allowed_percent=None if isinstance(allowed.percent, UnsetType) else exact(allowed.percent),
        allowed_pointer=f"{pointer}/limits" if document.allowed_outside is UNSET else f"{pointer}/allowed_outside",
        resolved=bounds.resolved(of.symbol, outer),
        **parts,
    )
