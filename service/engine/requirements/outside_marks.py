"""How `each` judges specimens that broke outside the marks: by a share of the lower limit, since their true force is not known.

Source: ISO 2307:2010, 9.7.2. The force is never scaled up to what it might have been.
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
from service.engine.requirements.wording import beside


class Placed(NamedTuple):
    """A reading beside the limit that holds for it."""

    number: int
    observed: Fraction
    compared: Fraction
    is_outside_marks: bool
    side: LimitSide
    standing: Position

    @property
    def order(self) -> tuple[Fraction, bool, Fraction]:
        """The worst first, in one order whatever the order sent."""
        return self.side.margin(self.compared), self.is_outside_marks, self.compared


class Judged(NamedTuple):
    """All readings beside their limits, the worst first, and beside the outer ones where there are such."""

    by_limits: Sequence[Placed]
    by_outer: Sequence[Placed]
    allowed: int

    @property
    def outside(self) -> Sequence[Placed]:
        """Those that do not meet their limit."""
        return [each for each in self.by_limits if not each.standing.is_met]

    @property
    def beyond(self) -> Sequence[Placed]:
        """Those that do not meet the outer one."""
        return [each for each in self.by_outer if not each.standing.is_met]

    @property
    def decisive(self) -> Placed | None:
        """The one that gives the margin; None where all may be outside and there is no outer limit."""
        found = [*self.by_limits[self.allowed : self.allowed + 1], *self.by_outer[:1]]
        return min(found, key=lambda each: each.side.margin(each.compared)) if found else None


def judge_with_outside_marks(rule: AllowingRule, aside: OutsideMarks, lot: Lot) -> Finding:
    """Pass, fail, or undecided while the sample is short, or where an upper limit would take the true force."""
    readings = aside.with_others
    if rule.bounds.upper:
        return rule.finding(
            Outcome.UNDECIDED, [_true_force_not_known(rule.of, rule.bounds.upper, aside.readings)], rule.resolved
        )
    lack = rule.lack(with_outside_marks(rule, aside, lot))
    judged = _judged(rule, aside)
    reasons = list(_broken(rule, judged, readings, is_complete=lack is None))
    if lack and not reasons:
        return rule.undecided(lack)
    decisive = judged.decisive
    measured = _measured(rule, judged, decisive, readings)
    margin = decisive.standing.distance if decisive else UNSET
    if reasons:
        return rule.finding(Outcome.FAIL, reasons, rule.resolved, measured, margin)
    return rule.finding(Outcome.PASS, [_within(rule, judged, decisive, readings)], rule.resolved, measured, margin)


def with_outside_marks(rule: AllowingRule, aside: OutsideMarks, lot: Lot) -> Lot:
    """The lot in which these readings count as the others do."""
    return lot._replace(by_characteristic={**lot.by_characteristic, rule.of.name: aside.with_others})


def _judged(rule: AllowingRule, aside: OutsideMarks) -> Judged:
    """Each reading beside the limit that holds for it."""
    readings = aside.with_others
    outside = {aside.readings.place(number) for number in range(aside.readings.count)}
    flags = [readings.place(number) in outside for number in range(readings.count)]
    return Judged(
        _placed(rule, rule.bounds, readings, flags),
        _placed(rule, rule.outer, readings, flags) if rule.outer else (),
        rule.allowed(readings.count),
    )


def _placed(rule: AllowingRule, bounds: Bounds, readings: Readings, flags: Sequence[bool]) -> Sequence[Placed]:
    """The worst first."""
    lower = bounds.lower
    assert lower
    share, placed = _share_of(lower, rule.of), list[Placed]()
    for number, (value, is_outside_marks) in enumerate(zip(readings.column.exact_values(), flags, strict=True)):
        side, compared = share if is_outside_marks else lower, rule.rounded(value)
        placed.append(Placed(number, value, compared, is_outside_marks, side, side.standing(compared)))
    return sorted(placed, key=lambda each: each.order)


def _share_of(lower: LimitSide, of: CompiledCharacteristic) -> LimitSide:
    """The share of the limit that a break outside the marks has to reach."""
    percent = of.precautions.outside_marks_at
    assert percent is not None
    limit = lower.limit * percent / HUNDRED
    words = f"the {with_unit(brief(limit), lower.unit)} that a break outside the marks has to reach"
    pointer = f"{of.pointer}/remarks/passes_outside_marks_at"
    return replace(lower, limit=limit, pointer=pointer, reported=reported(limit), words=words, decimals=decimals_shown(limit))


def _broken(rule: AllowingRule, judged: Judged, readings: Readings, *, is_complete: bool) -> Iterator[Reason]:
    """Why it fails; while the sample is short, only what no further reading could mend."""
    outside, beyond, total = judged.outside, judged.beyond, readings.count
    if len(outside) > judged.allowed and (is_complete or rule.allowed_percent is None):
        may = "none may be" if judged.allowed == 0 else f"at most {judged.allowed} may be"
        text = f"{rule.subject(len(outside), total)} outside the limits, and {may}; {_worst(rule, outside[0])}"
        numbers: dict[str, object] = {"outside": len(outside), "allowed": judged.allowed, "values": total}
        parameters = numbers | {"worst": outside[0].standing.value, "unit": rule.of.symbol}
        yield Reason("too-many-outside", text, parameters, rule.allowed_pointer, *_where(outside, readings))
    if beyond:
        worst = beyond[0]
        text = f"{rule.subject(len(beyond), total)} beyond the outer limits; {_worst(rule, worst)}"
        parameters = {"beyond": len(beyond), **beside(worst.standing, worst.side)}
        yield Reason("beyond-outer", text, parameters, worst.side.pointer, *_where(beyond, readings))


def _worst(rule: AllowingRule, placed: Placed) -> str:
    return f"the worst, {rule.as_rounded}{placed.standing.shown}, {placed.standing.where}."


def _where(placed: Sequence[Placed], readings: Readings) -> tuple[Sequence[str], int]:
    """Where these readings stand, in the order of the document."""
    at = readings.pointers(sorted(each.number for each in placed), "readings")
    return at.first, at.total


def _measured(rule: AllowingRule, judged: Judged, decisive: Placed | None, readings: Readings) -> MeasuredValue:
    """The decisive value, and how many are outside."""
    observed: float | UnsetType = nearest_double(decisive.observed) if decisive and rule.rounding else UNSET
    return MeasuredValue(
        statistic="reading",
        value=decisive.standing.value if decisive else UNSET,
        unit=rule.of.symbol,
        observed=observed,
        readings=readings.count,
        packages=readings.packages,
        outside=len(judged.outside),
        allowed=judged.allowed,
    )


def _within(rule: AllowingRule, judged: Judged, decisive: Placed | None, readings: Readings) -> Reason:
    """Enough of them meet the limits."""
    outside, total = len(judged.outside), readings.count
    head = f"{rule.subject(outside, total)} outside the limits, and {judged.allowed} may be"
    if outside == 0:
        all_of = f"All {total} readings of {rule.of.words} are" if total > 1 else f"The reading of {rule.of.words} is"
        head = f"{all_of} within the limits"
    parameters: dict[str, object] = {"outside": outside, "allowed": judged.allowed, "values": total}
    if decisive is None:
        return Reason("within", f"{head}.", parameters, rule.allowed_pointer, *readings.all_pointers)
    which = "it" if total == 1 else "the one that decides"
    text = f"{head}; {which}, {rule.as_rounded}{decisive.standing.shown}, {decisive.standing.where}."
    parameters |= beside(decisive.standing, decisive.side)
    return Reason("within", text, parameters, decisive.side.pointer, *readings.all_pointers)


def _true_force_not_known(of: CompiledCharacteristic, upper: LimitSide, readings: Readings) -> Reason:
    """An upper limit takes the true force."""
    text = (
        f"A specimen that broke outside the marks does not tell its true {of.words}, which {upper.words} is put on. Strike the "
        "reading and test another specimen."
    )
    parameters = {"remarks": ["broke_outside_marks"], "readings": readings.count}
    at = readings.pointers(range(readings.count), "readings")
    return Reason("remark-without-rule", text, parameters, upper.pointer, at.first, at.total)
