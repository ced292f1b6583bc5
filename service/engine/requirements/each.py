"""The kind `each`: at most an allowed number of values is outside the limits, and none is outside the outer limits."""

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
from service.engine.requirements.limits.rules import limited_fields
from service.engine.requirements.measuring import measured_flaws
from service.engine.requirements.outside_marks import judge_with_outside_marks, with_outside_marks
from service.engine.requirements.wording import before_value, limit_parameters, limit_reason, ranked_word, value_text


class Each(Limited, frozen=True, kw_only=True, tag="each"):
    """At most an allowed number of values is outside the limits, and none is outside the outer limits."""

    allowed_outside: Allowed | UnsetType = UNSET
    outer: Outer | UnsetType = UNSET


VALUE_POINTERS = Pointers(("/value",), 1)
"""The pointer to the single reading of a check."""


class DecisiveValue(Struct, frozen=True):
    """The value that gives the margin, the limits that it is compared with, and its position beside their nearest side."""

    value: Fraction
    bounds: Bounds
    side: LimitSide
    position: Position


class ComparedValues(Struct, frozen=True):
    """The values of a lot before and after rounding, and the indexes of those outside the limits and the outer limits."""

    observed: Column
    rounded: WholeColumn | None
    outside: Sequence[int]
    beyond: Sequence[int]
    allowed: int

    @property
    def compared(self) -> Column:
        """The values that are compared with limits: the rounded ones where the requirement rounds."""
        return self.rounded or self.observed


class EachRule(AllowingRule, frozen=True, kw_only=True):
    """A compiled requirement of the kind `each`."""

    def resolved_with(self, bounds: Bounds) -> ResolvedLimits:
        """These limits and the outer limits, as a finding reports them."""
        return bounds.resolved(self.of.symbol, self.outer)

    def with_moved_limits(self, bounds: Bounds, expanded: ExpandedUncertainty, way: int) -> "EachRule":
        """The requirement with its limits and outer limits moved by the uncertainty; `way` as in `guarded`."""
        outer = guarded(self.outer, expanded, way) if self.outer else None
        return replace(self, bounds=guarded(bounds, expanded, way), outer=outer, guard=None)

    def judge_by_known_limits(self, lot: Lot) -> Finding:
        """Pass, fail, or undecided while the sample is incomplete and further readings could still change a failure."""
        if self.over == "readings" and (marked := lot.outside_marks.get(self.of.name)):
            return judge_with_outside_marks(self, marked, lot)
        incomplete, readings = self.incomplete_sample(lot), lot.readings(self.of)
        if readings is None:
            assert incomplete
            return self.undecided(incomplete)
        values = self._values(readings)
        reasons: list[Reason] = []
        # The usual lot has nothing outside, and then no generator is made.
        if values.outside or values.beyond:
            reasons.extend(self._violations(values, readings, is_complete=incomplete is None))
        if incomplete and not reasons:
            return self.undecided(incomplete)
        decisive = self._decisive_value(values)
        measured = self._measured(values, decisive, readings)
        margin = decisive.position.distance if decisive else UNSET
        if reasons:
            return self.finding(Outcome.FAIL, reasons, self.resolved, measured, margin)
        return self.finding(Outcome.PASS, [self._within(values, decisive, readings)], self.resolved, measured, margin)

    def missing(self, lot: Lot) -> Sequence[Missing]:
        """What the sample lacks; a specimen that broke outside the marks counts towards it."""
        marked = lot.outside_marks.get(self.of.name) if self.over == "readings" else None
        return super().missing(with_outside_marks(self, marked, lot) if marked else lot)

    def count_outside(self, lot: Lot) -> int:
        """How many readings of the lot's first sample are outside limits; 0 where these are guarded or depend on the lot."""
        # With such limits one more reading decides nothing, so a check of one needs no count.
        readings = lot.readings(self.of)
        if readings is None or self.limits or self.guard:
            return 0
        return len(self._values(readings).outside)

    def check(self, value: Fraction, already_outside: int = 0, sent: str | None = None) -> Finding:
        """The finding on a single reading; one outside is undecided where some readings of a lot may be outside.

        already_outside  how many readings of its lot are outside; one more outside fails where no more may be
        sent             the reading as it was sent, `35.9 kN`, where that was in another unit
        """
        if self.limits:
            return self._limits_of_lot(self.limits)
        if self.guard is None:
            return self._check_by_known_limits(value, already_outside, sent)
        if self.guard.uncertainty is None:
            return self._check_without_uncertainty(self.guard)
        return self.guarded(
            self.guard,
            self.guard.uncertainty,
            lambda moved: moved._check_by_known_limits(value, sent=sent),  # noqa: SLF001  of this class
        )

    def _limits_of_lot(self, limits: LotLimits) -> Finding:
        side = limits.dependent[0]
        text = f"The {side.side} limit of {self.of.words} is calculated for each lot, so one reading decides nothing."
        return self.finding(
            Outcome.UNDECIDED, [Reason("limit-not-known", text, {"side": side.side}, side.pointer, *VALUE_POINTERS)]
        )

    def _check_without_uncertainty(self, guard: Guard) -> Finding:
        text = (
            f"The uncertainty that guards the limits comes with each series, so one reading of {self.of.words} decides nothing."
        )
        reason = Reason("uncertainty-missing", text, {}, guard.pointer, *VALUE_POINTERS)
        return self.finding(Outcome.UNDECIDED, [reason], self.resolved)

    def _check_by_known_limits(self, value: Fraction, already_outside: int = 0, sent: str | None = None) -> Finding:
        """The finding on one reading, by limits that need no lot and no guard band."""
        observed: float | UnsetType = UNSET
        compared, subject = value, f"This {self.of.words}, {before_value(sent, is_rounded=self.rounding is not None)}"
        if self.rounding:
            compared, observed = self.rounding.of(value), nearest_double(value)
        side, outer = self.bounds.nearest(compared), self.outer
        position = side.standing(compared)
        measured = MeasuredValue(statistic="reading", value=position.value, unit=side.unit, observed=observed)
        if position.is_met:
            reasons = [limit_reason(subject, position, side, VALUE_POINTERS)]
            return self.finding(Outcome.PASS, reasons, self.resolved, measured, position.distance)
        farthest = outer.nearest(compared) if outer else None
        beyond = farthest.standing(compared) if farthest else position
        is_beyond = farthest is not None and not beyond.is_met
        if self.allows_some and not is_beyond:
            return self._outside(position, side, measured, already_outside, subject)
        reasons = [] if self.allows_some else [limit_reason(subject, position, side, VALUE_POINTERS)]
        if farthest and is_beyond:
            text = f"{subject}{beyond.shown}, {beyond.where}, which no reading may be."
            reasons.append(Reason("beyond-outer", text, limit_parameters(beyond, farthest), farthest.pointer, *VALUE_POINTERS))
        return self.finding(Outcome.FAIL, reasons, self.resolved, measured, (beyond if self.allows_some else position).distance)

    def _outside(
        self, position: Position, side: LimitSide, measured: MeasuredValue, already_outside: int, subject: str
    ) -> Finding:
        """The finding on a reading outside the limits where some may be: undecided, unless the lot has used its allowance."""
        # What a percentage allows grows with the lot, so no count so far uses it up.
        if self.allowed_percent is not None or already_outside < self.allowed_count:
            reason = self._outside_if_allowed_reason(position, side, already_outside, subject)
            return self.finding(Outcome.UNDECIDED, [reason], self.resolved, measured)
        what = f"{subject}{position.shown}, {position.where}"
        may = f"{counted(self.allowed_count, 'reading')} of a lot may be outside, and this lot has {already_outside} already"
        parameters = {**limit_parameters(position, side), "allowed": self.allowed_count, "used": already_outside}
        reason = Reason("allowance-used-up", f"{what}; {may}.", parameters, self.allowed_pointer, *VALUE_POINTERS)
        return self.finding(Outcome.FAIL, [reason], self.resolved, measured, position.distance)

    def _outside_if_allowed_reason(self, position: Position, side: LimitSide, already_outside: int, subject: str) -> Reason:
        may = f"{self.allowed_count}" if self.allowed_percent is None else f"{plain(self.allowed_percent)} %"
        what = f"{subject}{position.shown}, {position.where}"
        are = "is" if already_outside == 1 else "are"
        already = f", and {already_outside} of this lot's {are} already" if already_outside else ""
        text = f"{what}; up to {may} of a lot's readings may be outside{already}, so the lot decides."
        parameters = limit_parameters(position, side) | ({"used": already_outside} if already_outside else {})
        return Reason("outside-if-allowed", text, parameters, self.allowed_pointer, *VALUE_POINTERS)

    def _values(self, readings: Readings) -> ComparedValues:
        observed = readings.values(self.over)
        rounded = observed.rounded(self.rounding.step, self.rounding.way) if self.rounding else None
        compared = rounded or observed
        outside = _outside(compared, self.bounds)
        beyond = compared.outside(*self.outer.limits) if self.outer else ()
        return ComparedValues(observed, rounded, outside, beyond, self.allowed(compared.count))

    def _violations(self, values: ComparedValues, readings: Readings, *, is_complete: bool) -> Iterator[Reason]:
        """The reasons for a failure; of an incomplete sample, only those that no further reading can change.

        A package's mean can still change, and so can the number that a percentage allows; a count of readings outside
        cannot fall.
        """
        # `outer` has no allowance, so a reading beyond it fails the lot at once; `allowed_percent` is of the complete sample.
        is_final = is_complete or self.over == "readings"
        if len(values.outside) > values.allowed and (is_complete or (is_final and self.allowed_percent is None)):
            yield self._too_many_outside(values, readings)
        if self.outer and values.beyond and is_final:
            yield self._beyond_outer(values, self.outer, readings)

    def _decisive_value(self, values: ComparedValues) -> DecisiveValue | None:
        """The value that gives the margin; None where all values may be outside and there is no outer limit.

        It is the worst value after leaving out as many as may be outside, or the worst beside the outer limits, whichever has
        the smaller margin.
        """
        by_limits = self._worst(values, self.bounds, values.allowed) if values.allowed < values.compared.count else None
        by_outer = self._worst(values, self.outer, 0) if self.outer else None
        if by_limits and by_outer:
            return by_outer if by_outer.side.margin(by_outer.value) < by_limits.side.margin(by_limits.value) else by_limits
        return by_limits or by_outer

    @staticmethod
    def _worst(values: ComparedValues, bounds: Bounds, rank: int) -> DecisiveValue:
        value = values.compared.worst(*bounds.limits, rank)
        side = bounds.nearest(value)
        return DecisiveValue(value, bounds, side, side.standing(value))

    def _measured(self, values: ComparedValues, decisive: DecisiveValue | None, readings: Readings) -> MeasuredValue:
        """The decisive value and the counts, as a finding reports them."""
        observed = self._observed(values, values.rounded, decisive) if decisive and values.rounded else None
        return MeasuredValue(
            statistic="reading" if self.over == "readings" else "package_mean",
            value=decisive.position.value if decisive else UNSET,
            unit=self.of.symbol,
            observed=UNSET if observed is None else float(observed),
            readings=readings.count,
            packages=readings.packages,
            outside=len(values.outside),
            allowed=values.allowed,
        )

    def _observed(self, values: ComparedValues, rounded: WholeColumn, decisive: DecisiveValue) -> Fraction:
        """The decisive value before rounding."""
        # Several values may round to the decisive one. Of these the one of the same rank by margin is taken, so that the
        # report does not depend on the order in which readings were sent.
        rank = values.allowed if decisive.bounds is self.bounds else 0
        lower, upper = decisive.bounds.limits
        margin = decisive.side.margin(decisive.value)
        # Worse are the values outside limits drawn in by this margin, and where the decisive value is on the upper limit
        # drawn in, also those on the lower one: of equal margins the lower side is first.
        drawn_in = None if lower is None else lower + margin
        worse = len(rounded.outside(drawn_in, None if upper is None else upper - margin))
        if drawn_in is not None and drawn_in != decisive.value:
            worse += len(rounded.places_of(drawn_in))
        return values.observed.picked(rounded.places_of(decisive.value)).worst(lower, upper, rank - worse)

    def _too_many_outside(self, values: ComparedValues, readings: Readings) -> Reason:
        # One code for both sides, also where none may be outside: `below-lower` and `above-upper` are of a single value.
        outside, total = len(values.outside), values.compared.count
        worst = self._worst(values, self.bounds, 0).position
        # The value that `measured` and `margin` are of is the first one too many, not always the worst one.
        first_too_many = self._worst(values, self.bounds, values.allowed)
        head = self.outside_text(outside, total, values.allowed)
        text = f"{head}; {self._value_text(first_too_many, values, readings, values.allowed)}."
        numbers = {"outside": outside, "allowed": values.allowed, "values": total}
        parameters: dict[str, object] = {**numbers, "worst": worst.value, "unit": self.of.symbol}
        return Reason("too-many-outside", text, parameters, self.allowed_pointer, *readings.pointers(values.outside, self.over))

    def _beyond_outer(self, values: ComparedValues, outer: Bounds, readings: Readings) -> Reason:
        decisive = self._worst(values, outer, 0)
        number = len(values.beyond)
        head = f"{self.subject(number, values.compared.count)} beyond the outer limits, and none may be"
        text = f"{head}; {self._value_text(decisive, values, readings, 0)}."
        parameters = {"beyond": number, **limit_parameters(decisive.position, decisive.side)}
        return Reason("beyond-outer", text, parameters, decisive.side.pointer, *readings.pointers(values.beyond, self.over))

    def _within(self, values: ComparedValues, decisive: DecisiveValue | None, readings: Readings) -> Reason:
        outside, total, at = len(values.outside), values.compared.count, readings.all_pointers
        head = self.all_within(total) if outside == 0 else self.outside_text(outside, total, values.allowed)
        parameters: dict[str, object] = {"outside": outside, "allowed": values.allowed, "values": total}
        if decisive is None:
            return Reason("within", f"{head}.", parameters, self.allowed_pointer, *at)
        rank = values.allowed if decisive.bounds is self.bounds else 0
        text = f"{head}; {self._value_text(decisive, values, readings, rank)}."
        parameters |= limit_parameters(decisive.position, decisive.side)
        return Reason("within", text, parameters, decisive.side.pointer, *at)

    def _value_text(self, decisive: DecisiveValue, values: ComparedValues, readings: Readings, rank: int) -> str:
        """The decisive value in a sentence: `the lowest, 35.9 kN, which is 8070.6 lbf, is 29.4 lbf below the limit of …`."""
        which = "it" if values.compared.count == 1 else ranked_word(decisive.bounds, decisive.side, rank)
        sent = None
        # A mean of a package was not sent; nor was a rounded value, of which the one before rounding was.
        if readings.sent_unit and self.over == "readings":
            sent = readings.as_sent(self._observed(values, values.rounded, decisive) if values.rounded else decisive.value)
        shown = value_text(decisive.position, sent, is_rounded=self.rounding is not None)
        return f"{which}, {shown}, {decisive.position.where}"


def _outside(values: Column, bounds: Bounds) -> Sequence[int]:
    """The indexes of the values outside the limits, ascending; a value on a limit that excludes its own value is outside."""
    outside = values.outside(*bounds.limits)
    if not bounds.excludes:
        return outside
    places = set(outside)
    for side in [side for side in bounds.sides if side.excludes]:
        # With lower and upper swapped, what is outside lies strictly inside; every other value is on the limit or beyond it.
        strictly_inside = values.outside(None, side.limit) if side.name == "lower" else values.outside(side.limit, None)
        places |= set(range(values.count)) - set(strictly_inside)
    return sorted(places)


def flaws(document: Each, context: GradeContext, at: str) -> Iterator[Flaw]:
    """The flaws of the document; `at` is its place in the specification."""
    of = context.characteristic(document.of)
    yield from measured_flaws(document, of, at)
    yield from all_limits_flaws(document.limits, of, context, f"{at}/limits")
    yield from decision_flaws(document.decision, f"{at}/decision")
    if not isinstance(document.allowed_outside, UnsetType):
        yield from allowed_flaws(document.allowed_outside, f"{at}/allowed_outside")
    if not isinstance(document.outer, UnsetType):
        yield from outer_flaws(document.outer, document.limits, of, f"{at}/outer")


def compiled(document: Each, context: GradeContext, pointer: str) -> EachRule:
    """The compiled requirement; `document` has no flaws, and `pointer` is its place in the specification."""
    of = context.characteristic(document.of)
    allowed = Allowed(count=0) if isinstance(document.allowed_outside, UnsetType) else document.allowed_outside
    fields = limited_fields(document, context, pointer)
    bounds = fields["bounds"]
    outer = None if isinstance(document.outer, UnsetType) else bounds_of(document.outer, of.symbol, f"{pointer}/outer")
    return EachRule(
        outer=outer,
        allowed_count=allowed.count or 0,
        allowed_percent=None if isinstance(allowed.percent, UnsetType) else exact(allowed.percent),
        allowed_pointer=f"{pointer}/limits" if document.allowed_outside is UNSET else f"{pointer}/allowed_outside",
        resolved=bounds.resolved(of.symbol, outer),
        **fields,
    )
