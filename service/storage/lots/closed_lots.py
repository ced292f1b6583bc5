"""The history's port over a database."""

from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import asynccontextmanager
from typing import Any, TypeVarTuple

from sqlalchemy import ColumnElement, Row, Select, and_, func, select, tuple_
from sqlalchemy.ext.asyncio import AsyncConnection

from service.engine.impact import JudgedLot
from service.ports.closed_lots import ClosedLot, ClosedLotsQuery, VerdictPlace
from service.storage.database import Database, lots, moment, stored, verdicts

Chosen = TypeVarTuple("Chosen")
Measure = Callable[[ColumnElement[str]], ColumnElement[int]]
"""A function of the database that tells how long a text is."""
FIRST = 1
"""The number of a lot's first verdict."""


class DatabaseClosedLots:
    """Lots with verdicts in SQLite or PostgreSQL."""

    def __init__(self, database: Database) -> None:
        """Read them there."""
        self._database = database

    @asynccontextmanager
    async def closed(self, wanted: ClosedLotsQuery) -> AsyncIterator[AsyncIterator[ClosedLot]]:
        """Lots in the order in which they were closed."""
        async with self._database.reading() as connection:
            yield _closed(connection, wanted)

    async def count(self, wanted: ClosedLotsQuery) -> int:
        """How many lots are wanted."""
        query = _among(select(func.count()).select_from(verdicts), wanted)
        async with self._database.reading() as connection:
            found: int = (await connection.execute(query)).scalar_one()
        return found if wanted.limit is None else min(found, wanted.limit)

    async def places(self, wanted: ClosedLotsQuery, after: VerdictPlace | None, limit: int) -> Sequence[VerdictPlace]:
        """At most so many of the lots, the newest first."""
        # Where PostgreSQL counts characters it has to read all that is measured; SQLite counts no bytes before 3.43.
        measure = func.length if self._database.is_embedded else func.octet_length
        async with self._database.reading() as connection:
            rows = (await connection.execute(_places(wanted, after, limit, measure))).all()
        return [VerdictPlace(lot=row.lot, at=moment(row.at), number=row.number, size=row.size) for row in rows]

    async def judged(self, places: Sequence[VerdictPlace]) -> Sequence[JudgedLot]:
        """The lots there with their documents."""
        of = verdicts.c
        query = select(of.lot, of.number, of.evidence, of.verdict)
        query = query.where(tuple_(of.lot, of.number).in_([(each.lot, each.number) for each in places]))
        async with self._database.reading() as connection:
            by_lot = {row.lot: row for row in (await connection.execute(query)).all()}
        return [_judged(by_lot[each.lot]) for each in places]


def _judged(row: Row[*tuple[Any, ...]]) -> JudgedLot:
    return JudgedLot(lot=row.lot, number=row.number, evidence=row.evidence.encode(), verdict=row.verdict.encode())


async def _closed(connection: AsyncConnection, wanted: ClosedLotsQuery) -> AsyncIterator[ClosedLot]:
    """First which lots they are, which is little of each; then the evidence of one after the other."""
    places = (await connection.execute(_listing(wanted))).all()
    of = verdicts.c
    for place in reversed(places):
        newest = select(of.evidence).where(of.lot == place.lot).order_by(of.number.desc()).limit(1)
        evidence: str = (await connection.execute(newest)).scalar_one()
        yield ClosedLot(lot=place.lot, at=moment(place.at), evidence=evidence.encode())


def _listing(wanted: ClosedLotsQuery) -> Select[*tuple[Any, ...]]:
    """The newest lots by their first verdict, the newest first."""
    of = verdicts.c
    return _among(select(of.lot, of.at), wanted).order_by(of.at.desc(), of.lot.desc()).limit(wanted.limit)


def _among(query: Select[*Chosen], wanted: ClosedLotsQuery) -> Select[*Chosen]:
    """The same of the first verdicts on lots that are wanted."""
    of = verdicts.c
    query = query.where(of.grade == wanted.grade, of.number == FIRST)
    if wanted.lines:
        query = query.join(lots, lots.c.lot == of.lot).where(lots.c.line.in_(wanted.lines))
    if wanted.closed_from is not None:
        query = query.where(of.at >= stored(wanted.closed_from))
    if wanted.closed_until is not None:
        query = query.where(of.at < stored(wanted.closed_until))
    return query


def _places(wanted: ClosedLotsQuery, after: VerdictPlace | None, limit: int, measure: Measure) -> Select[*tuple[Any, ...]]:
    """A page of lots, each with the number of its newest verdict and how much is kept with it."""
    of, newest = verdicts.c, verdicts.alias("newest")
    last = verdicts.alias("last")
    greatest = select(func.max(last.c.number)).where(last.c.lot == of.lot).correlate(verdicts).scalar_subquery()
    size = measure(newest.c.evidence) + measure(newest.c.verdict)
    query = select(of.lot, of.at, newest.c.number, size.label("size"))
    query = query.select_from(verdicts).join(newest, and_(newest.c.lot == of.lot, newest.c.number == greatest))
    if after is not None:
        query = query.where(tuple_(of.at, of.lot) < (stored(after.at), after.lot))
    return _among(query, wanted).order_by(of.at.desc(), of.lot.desc()).limit(limit)
