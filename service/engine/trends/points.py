"""Evidence → the point of its lot in a trend, in the unit of the grade, and the grade's limits on single readings."""

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
    """A lot that has no point in the trend, and why."""

    lot: str
    code: str
    text: str


class Point(NamedTuple):
    """The point of a lot in a trend: as reported, and exact figures for calculations over many lots."""

    document: LotPoint
    mean: Fraction
    variance: Fraction | None
    """Sample variance, with n - 1; None for one reading."""


def point_of(grade: CompiledGrade, of: CompiledCharacteristic, evidence: Evidence, at: str) -> Point | LeftOut:
    """The point of a lot in the trend of a characteristic, from its first sample.

    of  a characteristic of the grade that is measured, or derived from measured ones
    at  the moment by which lots are ordered

    As in a verdict, struck readings, those that the grade leaves out and those of unknown true force enter no statistic. A lot
    is left out where a verdict would be undecided because its readings are in doubt (`engine/lot/doubts.py`).
    """
    lot = evidence.lot.id
    try:
        prepared = _prepared(grade, of, evidence)
    except FlawedDocumentError as error:
        flaw = error.flaws[0]
        return LeftOut(lot, flaw.code, flaw.text)
    # A derived characteristic is in doubt where any of those from which it is derived is.
    if doubts := [reason for source in of.lineage for reason in prepared.doubts.get(source.name, ())]:
        return LeftOut(lot, doubts[0].code, doubts[0].text)
    return _of_means(of, prepared, lot, at) or _of_readings(of, prepared, lot, at) or _not_measured(of, lot)


def limits_on(grade: CompiledGrade, of: CompiledCharacteristic) -> Limits:
    """The narrowest limits that the binding requirements `each` and `variables` over readings set to a single reading.

    Limits calculated for each lot, and outer limits, are not included.
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
    """The lot with the readings that this characteristic depends on. Raises FlawedDocumentError."""
    # A flaw in other series must not leave the lot out. A second sample is drawn from doubtful lots only, so it would bias the
    # trend.
    names = {source.name for source in of.lineage}
    series = [each for each in evidence.series or () if each.characteristic in names and each.stage != SECOND]
    relevant = Evidence(LotDocument(evidence.lot.id), series or UNSET)
    return prepare(grade.characteristics, _derived(of), (), relevant, sent(relevant))


def _derived(of: CompiledCharacteristic) -> Sequence[CompiledCharacteristic]:
    """The derived characteristics of the lineage, those derived from derived ones last."""
    found = {source.name: source for source in of.lineage if source.derived}
    return sorted(found.values(), key=lambda source: any(side.derived for side in source.sides))


def _of_readings(of: CompiledCharacteristic, lot: Lot, name: str, at: str) -> Point | None:
    """The point from the lot's readings; None where it has none."""
    readings = lot.readings(of)
    if readings is None:
        return None
    column = readings.column
    return _point(name, at, column.count, column.mean(), column.variance() if column.count > 1 else None)


def _of_means(of: CompiledCharacteristic, lot: Lot, name: str, at: str) -> Point | None:
    """The point of a quotient of means, which is one value a lot; None for other characteristics, or where a side is absent."""
    if not (isinstance(of.derived, Quotient) and of.derived.of_means):
        return None
    sides = [readings for side in of.sides if (readings := lot.readings(side))]
    if len(sides) < len(of.sides):
        return None
    return _point(name, at, 1, of.derived.of_pooled(*sides), None)


def _point(lot: str, at: str, readings: int, mean: Known, variance: Known | None) -> Point:
    """The point, with each reported figure rounded once."""
    document = LotPoint(
        lot=lot,
        at=at,
        readings=readings,
        mean=answered(mean, nearest_double),
        standard_deviation=UNSET if variance is None else answered(rooted(variance), nearest_double),
    )
    # The middle of an enclosure goes on as a number: the enclosure would hold the lot's readings in memory until the end.
    return Point(document, middle(mean), None if variance is None else middle(variance))


def _not_measured(of: CompiledCharacteristic, lot: str) -> LeftOut:
    return LeftOut(lot, "not-measured", f"The evidence has no reading of {of.words} that counts.")
