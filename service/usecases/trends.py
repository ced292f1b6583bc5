"""Trends: a characteristic over the lots of a grade."""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import msgspec

from service.engine.characteristics import CompiledCharacteristic
from service.engine.documents import Evidence, did_you_mean, listed, quoted
from service.engine.grade import CompiledGrade
from service.engine.trends import LeftOut, Point, Trend, limits_on, point_of, trend_of
from service.ports.catalogue import Catalogue, Moment
from service.ports.closed_lots import ClosedLot, ClosedLots, ClosedLotsQuery, TrendUnknownError
from service.usecases.grades import CachedGrade, GradeCache, check_there, revision_in_force
from service.usecases.judging import held_by

MOST_LOTS = 1000
"""Maximum number of lots in a trend."""
MOST_LISTED = 20
_evidence = msgspec.json.Decoder(Evidence).decode


class TrendFound(NamedTuple):
    """A trend, the revision whose units and limits it uses, and the lots that are left out."""

    held: CachedGrade
    trend: Trend
    left_out: Sequence[LeftOut]


async def trend(
    catalogue: Catalogue, grade_cache: GradeCache, history: ClosedLots, name: str, wanted: ClosedLotsQuery, revision: int | None
) -> TrendFound:
    """Calculate the trend over the lots that match, by the given revision or the one in force.

    Only one lot's readings are in memory at a time. Raises GradeUnknownError, NoneInForceError, TrendUnknownError, and
    FlawedDocumentError at /revision.
    """
    held = await of_grade(catalogue, grade_cache, wanted.grade, revision)
    of = _measured(held.compiled, wanted.grade, name)
    points, left_out = list[Point](), list[LeftOut]()
    async with history.closed(wanted) as lots:
        async for lot in lots:
            # By the revision asked for, whichever the lot was judged by; a lot whose readings that can't take is left out.
            point = _point(held.compiled, of, lot)
            if isinstance(point, Point):
                points.append(point)
            else:
                left_out.append(point)
    return TrendFound(held, trend_of(of.name, of.symbol, points, limits_on(held.compiled, of)), left_out)


async def of_grade(catalogue: Catalogue, grade_cache: GradeCache, grade: str, revision: int | None) -> CachedGrade:
    """Return a revision, the one in force for None. Raises GradeUnknownError, NoneInForceError, FlawedDocumentError."""
    held = grade_cache.held(grade, revision)
    if held:
        return held
    await check_there(catalogue, {"grade": grade})
    number = revision or (await revision_in_force(catalogue, grade)).number
    return await held_by(grade_cache, grade, number, "")


def _measured(grade: CompiledGrade, code: str, name: str) -> CompiledCharacteristic:
    """Return a measured characteristic. Raises TrendUnknownError if the grade has none of this name, or only a declared one."""
    measured: Mapping[str, CompiledCharacteristic] = {
        characteristic.name: characteristic
        for characteristic in grade.characteristics.values()
        if characteristic.unit is not None
    }
    if found := measured.get(name):
        return found
    if name in grade.characteristics:
        raise TrendUnknownError(f"{quoted(name)} is declared, not measured, so it has no trend. Ask for a measured one.")
    remedy = did_you_mean(name, measured) or f" Use {listed(list(measured)[:MOST_LISTED])}."
    raise TrendUnknownError(f"{code} has no characteristic {quoted(name)}.{remedy}")


def _point(grade: CompiledGrade, of: CompiledCharacteristic, lot: ClosedLot) -> Point | LeftOut:
    return point_of(grade, of, _evidence(lot.evidence), _written(lot.at))


def _written(moment: Moment) -> str:
    """A moment as documents have it, to the microsecond."""
    return str(msgspec.to_builtins(moment))
