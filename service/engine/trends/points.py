"""Evidence → the point of its lot in a trend, in the unit of the grade; and the grade's limits on single readings."""

from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from msgspec import UNSET, Struct

from service.engine.characteristics import CompiledCharacteristic
from service.engine.deriving import Quotient
from service.engine.documents import Evidence, FlawedDocumentError
from service.engine.documents import Lot as LotDocument
from service.engine.grade import CompiledGrade
from service.engine.lot import SECOND, Lot, prepare, sent
from service.engine.numbers import Known, answered, middle, nearest_double, rooted
from service.engine.requirements import EachRule, VariablesRule
from service.engine.trends.capability import Limits
from service.engine.trends.documents import LotPoint


class LeftOut(Struct, frozen=True):
    """A lot that has no point, and why."""

    lot: str
    code: str
    text: str


class Point(NamedTuple):
    """What the readings of a lot come to: as it is told, and for what is worked out from many lots."""

    document: LotPoint
    mean: Fraction
    variance: Fraction | None
    """By n less one; None for one reading."""


def point_of(grade: CompiledGrade, of: CompiledCharacteristic, evidence: Evidence, at: str) -> Point | LeftOut:
    """The point of a lot, of its first sample alone: a second one is drawn from doubtful lots only.

    of  a characteristic of the grade that is measured, or derived from such
    at  the moment by which lots are ordered

    Struck readings, and those that the grade leaves out or whose true force is not known, enter no statistic, as in a verdict;
    where a verdict would be undecided because readings can't be taken as they stand, the lot is left out.
    """
    lot = evidence.lot.id
    try:
        prepared = _prepared(grade, of, evidence)
    except FlawedDocumentError as error:
        flaw = error.flaws[0]
        return LeftOut(lot, flaw.code, flaw.text)
    if doubts := [reason for each in of.lineage for reason in prepared.doubts.get(each.name, ())]:
        return LeftOut(lot, doubts[0].code, doubts[0].text)
    return _of_means(of, prepared, lot, at) or _of_readings(of, prepared, lot, at) or _not_measured(of, lot)


def limits_on(grade: CompiledGrade, of: CompiledCharacteristic) -> Limits:
    """What the binding requirements `each` and `variables` over readings leave to a single reading.

    Limits that are worked out for each lot, and outer ones, are not among them.
    """
    bounds = [
        each.bounds.limits
        for each in grade.requirements
        if isinstance(each, EachRule | VariablesRule) and each.of is of and each.binding and _is_plain(each)
    ]
    lower = max((low for low, _ in bounds if low is not None), default=None)
    upper = min((high for _, high in bounds if high is not None), default=None)
    return Limits(lower, upper)


def _is_plain(requirement: EachRule | VariablesRule) -> bool:
    return requirement.over == "readings" and requirement.limits is None


def _prepared(grade: CompiledGrade, of: CompiledCharacteristic, evidence: Evidence) -> Lot:
    """The lot, so far as this characteristic is concerned. Raises FlawedDocumentError."""
    names = {each.name for each in of.lineage}
    series = [each for each in evidence.series or () if each.characteristic in names and each.stage != SECOND]
    told = Evidence(LotDocument(evidence.lot.id), series or UNSET)
    return prepare(grade.characteristics, _derived(of), (), told, sent(told))


def _derived(of: CompiledCharacteristic) -> Sequence[CompiledCharacteristic]:
    """What has to be worked out, what is derived from something derived last."""
    found = {each.name: each for each in of.lineage if each.derived}
    return sorted(found.values(), key=lambda each: any(side.derived for side in each.sides))


def _of_readings(of: CompiledCharacteristic, lot: Lot, name: str, at: str) -> Point | None:
    """Their mean and standard deviation."""
    readings = lot.readings(of)
    if readings is None:
        return None
    column = readings.column
    return _point(name, at, column.count, column.mean(), column.variance() if column.count > 1 else None)


def _of_means(of: CompiledCharacteristic, lot: Lot, name: str, at: str) -> Point | None:
    """A quotient of means is one value of the lot; None for any other characteristic, or while a side is absent."""
    if not (isinstance(of.derived, Quotient) and of.derived.of_means):
        return None
    sides = [readings for side in of.sides if (readings := lot.readings(side))]
    if len(sides) < len(of.sides):
        return None
    return _point(name, at, 1, of.derived.of_pooled(*sides), None)


def _point(lot: str, at: str, readings: int, mean: Known, variance: Known | None) -> Point:
    """With each figure rounded once. What is enclosed goes on as a number, so that no lot's readings are held for it."""
    document = LotPoint(
        lot=lot,
        at=at,
        readings=readings,
        mean=answered(mean, nearest_double),
        standard_deviation=UNSET if variance is None else answered(rooted(variance), nearest_double),
    )
    return Point(document, middle(mean), None if variance is None else middle(variance))


def _not_measured(of: CompiledCharacteristic, lot: str) -> LeftOut:
    return LeftOut(lot, "not-measured", f"The evidence has no reading of {of.words} that counts.")
