"""The ClosedLots port over a database."""

from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import asynccontextmanager
from typing import Any, TypeVarTuple

from sqlalchemy import ColumnElement, Row, Select, and_, func, select, tuple_
from sqlalchemy.ext.asyncio import AsyncConnection

from service.engine.impact import JudgedLot
from service.ports.closed_lots import ClosedLot, ClosedLotsQuery, VerdictPlace
from service.storage.database import Database, lots, to_microseconds, to_moment, verdicts

Chosen = TypeVarTuple("Chosen")
Measure = Callable[[ColumnElement[str]], ColumnElement[int]]
"""An SQL function that returns the length of a text."""
FIRST = 1
"""Number of a lot's first verdict."""


class DatabaseClosedLots:
    """Lots with verdicts in SQLite or PostgreSQL."""

    def __init__(self, database: Database) -> None:
        """Use a database whose tables exist."""
        self._database = database

    @asynccontextmanager
    async def closed(self, wanted: ClosedLotsQuery) -> AsyncIterator[AsyncIterator[ClosedLot]]:
        """Open an iterator over lots in the order of their first verdicts."""
        async with self._database.reading() as connection:
            yield _closed(connection, wanted)

    async def count(self, wanted: ClosedLotsQuery) -> int:
        """Count the lots that match."""
        query = _among(select(func.count()).select_from(verdicts), wanted)
        async with self._database.reading() as connection:
            found: int = (await connection.execute(query)).scalar_one()
        return found if wanted.limit is None else min(found, wanted.limit)

    async def places(self, wanted: ClosedLotsQuery, after: VerdictPlace | None, limit: int) -> Sequence[VerdictPlace]:
        """Return a page of at most `limit` lots, newest first."""
        # To count the characters of a text PostgreSQL has to read it, but not to count its bytes. SQLite has no octet_length
        # before 3.43.
        measure = func.length if self._database.is_embedded else func.octet_length
        async with self._database.reading() as connection:
            rows = (await connection.execute(_places(wanted, after, limit, measure))).all()
        return [VerdictPlace(lot=row.lot, at=to_moment(row.at), number=row.number, size=row.size) for row in rows]

    async def judged(self, places: Sequence[VerdictPlace]) -> Sequence[JudgedLot]:
        """Return the lots of these places with their documents."""
        of = verdicts.c
        query = select(of.lot, of.number, of.evidence, of.verdict)
        query = query.where(tuple_(of.lot, of.number).in_([(place.lot, place.number) for place in places]))
        async with self._database.reading() as connection:
            by_lot = {row.lot: row for row in (await connection.execute(query)).all()}
        return [_judged(by_lot[place.lot]) for place in places]


def _judged(row: Row[*tuple[Any, ...]]) -> JudgedLot:
    return JudgedLot(lot=row.lot, number=row.number, evidence=row.evidence.encode(), verdict=row.verdict.encode())


async def _closed(connection: AsyncConnection, wanted: ClosedLotsQuery) -> AsyncIterator[ClosedLot]:
    """Read the list of lots, then the evidence of each when it is asked for."""
    places = (await connection.execute(_listing(wanted))).all()
    of = verdicts.c
    # The query is newest first, so that its limit takes the newest; the result is oldest first.
    for place in reversed(places):
        newest = select(of.evidence).where(of.lot == place.lot).order_by(of.number.desc()).limit(1)
        evidence: str = (await connection.execute(newest)).scalar_one()
        yield ClosedLot(lot=place.lot, at=to_moment(place.at), evidence=evidence.encode())


def _listing(wanted: ClosedLotsQuery) -> Select[*tuple[Any, ...]]:
    """The query for the newest lots by their first verdicts, newest first."""
    of = verdicts.c
    return _among(select(of.lot, of.at), wanted).order_by(of.at.desc(), of.lot.desc()).limit(wanted.limit)


def _among(query: Select[*Chosen], wanted: ClosedLotsQuery) -> Select[*Chosen]:
    """Restrict a query to first verdicts on the lots that match."""
    of = verdicts.c
    query = query.where(of.grade == wanted.grade, of.number == FIRST)
    if wanted.lines:
        query = query.join(lots, lots.c.lot == of.lot).where(lots.c.line.in_(wanted.lines))
    if wanted.closed_from is not None:
        query = query.where(of.at >= to_microseconds(wanted.closed_from))
    if wanted.closed_until is not None:
        query = query.where(of.at < to_microseconds(wanted.closed_until))
    return query


def _places(wanted: ClosedLotsQuery, after: VerdictPlace | None, limit: int, measure: Measure) -> Select[*tuple[Any, ...]]:
    """The query for a page of lots with number and size of their newest verdicts."""
    of, newest = verdicts.c, verdicts.alias("newest")
    last = verdicts.alias("last")
    greatest = select(func.max(last.c.number)).where(last.c.lot == of.lot).correlate(verdicts).scalar_subquery()
    size = measure(newest.c.evidence) + measure(newest.c.verdict)
    query = select(of.lot, of.at, newest.c.number, size.label("size"))
    query = query.select_from(verdicts).join(newest, and_(newest.c.lot == of.lot, newest.c.number == greatest))
    if after is not None:
        query = query.where(tuple_(of.at, of.lot) < (to_microseconds(after.at), after.lot))
    return _among(query, wanted).order_by(of.at.desc(), of.lot.desc()).limit(limit)
