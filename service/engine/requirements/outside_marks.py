"""How the kind `each` judges specimens that broke outside the marks: by a share of the lower limit.

Their true breaking force is not known: it is not below the one measured. The reading is never scaled up to an estimate of it.
Source: ISO 2307:2010, 9.7.2.
"""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import NamedTuple

from msgspec import UNSET, UnsetType
from msgspec.structs import replace

from service.engine.characteristics import HUNDRED, Bounds, CompiledCharacteristic, LimitSide, Position, Readings
from service.engine.documents import Finding, MeasuredValue, Outcome, Reason
from service.engine.lot import Lot, OutsideMarks
from service.engine.numbers import brief, decimals_shown, nearest_double, reported, with_unit
from service.engine.requirements.allowing import AllowingRule
from service.engine.requirements.wording import limit_parameters, ordinal, value_text


class ComparedReading(NamedTuple):
    """A reading, and its position beside the limit that applies to it."""

    number: int
    observed: Fraction
    compared: Fraction
    is_outside_marks: bool
    side: LimitSide
    position: Position

    @property
    def order(self) -> tuple[Fraction, bool, Fraction]:
        """The sort key, worst reading first; it does not depend on the order in which readings were sent."""
        return self.side.margin(self.compared), self.is_outside_marks, self.compared


class ComparedReadings(NamedTuple):
    """All readings compared with their limits and, where a grade has them, with the outer limits; the worst first."""

    by_limits: Sequence[ComparedReading]
    by_outer: Sequence[ComparedReading]
    allowed: int

    @property
    def outside(self) -> Sequence[ComparedReading]:
        """The readings that do not meet their limit."""
        return [each for each in self.by_limits if not each.position.is_met]

    @property
    def beyond(self) -> Sequence[ComparedReading]:
        """The readings that do not meet their outer limit."""
        return [each for each in self.by_outer if not each.position.is_met]

    @property
    def decisive(self) -> ComparedReading | None:
        """The reading that gives the margin; None where all may be outside and there is no outer limit."""
        found = [*self.by_limits[self.allowed : self.allowed + 1], *self.by_outer[:1]]
        return min(found, key=lambda each: each.side.margin(each.compared)) if found else None


def judge_with_outside_marks(rule: AllowingRule, marked: OutsideMarks, lot: Lot) -> Finding:
    """Pass, fail, or undecided while the sample is incomplete, or where an upper limit needs the true force."""
    # A value not below the measured one can exceed any upper limit, so such a limit is undecided before all else.
    readings = marked.with_others
    if rule.bounds.upper:
        return rule.finding(
            Outcome.UNDECIDED, [_true_force_not_known(rule.of, rule.bounds.upper, marked.readings)], rule.resolved
        )
    incomplete = rule.incomplete_sample(with_outside_marks(rule, marked, lot))
    compared = _compared(rule, marked)
    reasons = list(_violations(rule, compared, readings, is_complete=incomplete is None))
    if incomplete and not reasons:
        return rule.undecided(incomplete)
    decisive = compared.decisive
    measured = _measured(rule, compared, decisive, readings)
    margin = decisive.position.distance if decisive else UNSET
    if reasons:
        return rule.finding(Outcome.FAIL, reasons, rule.resolved, measured, margin)
    return rule.finding(Outcome.PASS, [_within(rule, compared, decisive, readings)], rule.resolved, measured, margin)


def with_outside_marks(rule: AllowingRule, marked: OutsideMarks, lot: Lot) -> Lot:
    """The lot with these readings among the others, as they count towards the sample."""
    return lot._replace(by_characteristic={**lot.by_characteristic, rule.of.name: marked.with_others})


def _compared(rule: AllowingRule, marked: OutsideMarks) -> ComparedReadings:
    """Each reading compared with the limit that applies to it."""
    readings = marked.with_others
    # By place in the evidence: an index in `marked.readings` is not one in `with_others`, which has all of them.
    outside = {marked.readings.place(number) for number in range(marked.readings.count)}
    flags = [readings.place(number) in outside for number in range(readings.count)]
    return ComparedReadings(
        _compared_readings(rule, rule.bounds, readings, flags),
        _compared_readings(rule, rule.outer, readings, flags) if rule.outer else (),
        rule.allowed(readings.count),
    )


def _compared_readings(
    rule: AllowingRule, bounds: Bounds, readings: Readings, flags: Sequence[bool]
) -> Sequence[ComparedReading]:
    """Each reading compared with these limits, the worst first; `flags` are True for breaks outside the marks."""
    lower = bounds.lower
    assert lower
    share, readings_compared = _reduced_limit(lower, rule.of), list[ComparedReading]()
    for number, (value, is_outside_marks) in enumerate(zip(readings.column.exact_values(), flags, strict=True)):
        side, compared = share if is_outside_marks else lower, rule.rounded(value)
        readings_compared.append(ComparedReading(number, value, compared, is_outside_marks, side, side.standing(compared)))
    return sorted(readings_compared, key=lambda each: each.order)


def _reduced_limit(lower: LimitSide, of: CompiledCharacteristic) -> LimitSide:
    """The lower limit for a break outside the marks: the share of `lower` that the grade states."""
    # Of the limit as compared, so a guard band or a dependence on the lot is in it already.
    percent = of.precautions.outside_marks_at
    assert percent is not None
    limit = lower.limit * percent / HUNDRED
    words = f"the {with_unit(brief(limit), lower.unit)} that a break outside the marks must reach"
    pointer = f"{of.pointer}/remarks/passes_outside_marks_at"
    return replace(lower, limit=limit, pointer=pointer, reported=reported(limit), words=words, decimals=decimals_shown(limit))


def _violations(rule: AllowingRule, compared: ComparedReadings, readings: Readings, *, is_complete: bool) -> Iterator[Reason]:
    """The reasons for a failure; of an incomplete sample, only those that no further reading can change."""
    outside, beyond, total = compared.outside, compared.beyond, readings.count
    if len(outside) > compared.allowed and (is_complete or rule.allowed_percent is None):
        head = rule.outside_text(len(outside), total, compared.allowed)
        text = f"{head}; {_value_text(rule, readings, outside[compared.allowed], compared.allowed)}"
        numbers: dict[str, object] = {"outside": len(outside), "allowed": compared.allowed, "values": total}
        parameters = numbers | {"worst": outside[0].position.value, "unit": rule.of.symbol}
        yield Reason("too-many-outside", text, parameters, rule.allowed_pointer, *_pointers(outside, readings))
    if beyond:
        worst = beyond[0]
        head = f"{rule.subject(len(beyond), total)} beyond the outer limits, and none may be"
        text = f"{head}; {_value_text(rule, readings, worst, 0)}"
        parameters = {"beyond": len(beyond), **limit_parameters(worst.position, worst.side)}
        yield Reason("beyond-outer", text, parameters, worst.side.pointer, *_pointers(beyond, readings))


def _value_text(rule: AllowingRule, readings: Readings, one: ComparedReading, rank: int) -> str:
    """A reading in a sentence, by its rank from the worst; not `lowest`, as a break outside the marks has its own limit."""
    which = "it" if readings.count == 1 else f"the {ordinal(rank)}worst"
    shown = value_text(one.position, readings.as_sent(one.observed), is_rounded=rule.rounding is not None)
    return f"{which}, {shown}, {one.position.where}."


def _pointers(readings_compared: Sequence[ComparedReading], readings: Readings) -> tuple[Sequence[str], int]:
    """Pointers to these readings, in the order of the document."""
    at = readings.pointers(sorted(each.number for each in readings_compared), "readings")
    return at.first, at.total


def _measured(
    rule: AllowingRule, compared: ComparedReadings, decisive: ComparedReading | None, readings: Readings
) -> MeasuredValue:
    """The decisive value and the counts, as a finding reports them."""
    observed: float | UnsetType = nearest_double(decisive.observed) if decisive and rule.rounding else UNSET
    return MeasuredValue(
        statistic="reading",
        value=decisive.position.value if decisive else UNSET,
        unit=rule.of.symbol,
        observed=observed,
        readings=readings.count,
        packages=readings.packages,
        outside=len(compared.outside),
        allowed=compared.allowed,
    )


def _within(rule: AllowingRule, compared: ComparedReadings, decisive: ComparedReading | None, readings: Readings) -> Reason:
    """The reason for a pass."""
    outside, total = len(compared.outside), readings.count
    head = rule.all_within(total) if outside == 0 else rule.outside_text(outside, total, compared.allowed)
    parameters: dict[str, object] = {"outside": outside, "allowed": compared.allowed, "values": total}
    if decisive is None:
        return Reason("within", f"{head}.", parameters, rule.allowed_pointer, *readings.all_pointers)
    # Where an outer limit decides, the reading is the worst beside it.
    rank = compared.allowed if decisive in compared.by_limits else 0
    text = f"{head}; {_value_text(rule, readings, decisive, rank)}"
    parameters |= limit_parameters(decisive.position, decisive.side)
    return Reason("within", text, parameters, decisive.side.pointer, *readings.all_pointers)


def _true_force_not_known(of: CompiledCharacteristic, upper: LimitSide, readings: Readings) -> Reason:
    """The reason where an upper limit needs the true breaking force."""
    text = (
        f"A specimen that broke outside the marks does not show its true {of.words}, so it cannot be compared with "
        f"{upper.words}. Strike the reading and test another specimen."
    )
    parameters = {"remarks": ["broke_outside_marks"], "readings": readings.count}
    at = readings.pointers(range(readings.count), "readings")
    return Reason("remark-without-rule", text, parameters, upper.pointer, at.first, at.total)
