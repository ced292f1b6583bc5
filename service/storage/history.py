"""The history's port over a database."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Any

from sqlalchemy import Select, select
from sqlalchemy.ext.asyncio import AsyncConnection

from service.ports import ClosedLot, ClosedWanted
from service.storage.connecting import Database
from service.storage.moments import moment, stored
from service.storage.tables import lots, verdicts

FIRST = 1
"""The number of a lot's first verdict."""


class DatabaseHistory:
    """Lots with verdicts in SQLite or PostgreSQL."""

    def __init__(self, database: Database) -> None:
        """Read them there."""
        self._database = database

    @asynccontextmanager
    async def closed(self, wanted: ClosedWanted) -> AsyncIterator[AsyncIterator[ClosedLot]]:
        """Lots in the order in which they were closed."""
        async with self._database.reading() as connection:
            yield _closed(connection, wanted)


async def _closed(connection: AsyncConnection, wanted: ClosedWanted) -> AsyncIterator[ClosedLot]:
    """First which lots they are, which is little of each; then the evidence of one after the other."""
    places = (await connection.execute(_listing(wanted))).all()
    of = verdicts.c
    for place in reversed(places):
        newest = select(of.evidence).where(of.lot == place.lot).order_by(of.number.desc()).limit(1)
        evidence: str = (await connection.execute(newest)).scalar_one()
        yield ClosedLot(lot=place.lot, at=moment(place.at), evidence=evidence.encode())


def _listing(wanted: ClosedWanted) -> Select[*tuple[Any, ...]]:
    """The newest lots by their first verdict, the newest first."""
    of = verdicts.c
    query = select(of.lot, of.at).where(of.grade == wanted.grade, of.number == FIRST)
    if wanted.line is not None:
        query = query.join(lots, lots.c.lot == of.lot).where(lots.c.line == wanted.line)
    if wanted.closed_from is not None:
        query = query.where(of.at >= stored(wanted.closed_from))
    if wanted.closed_until is not None:
        query = query.where(of.at < stored(wanted.closed_until))
    return query.order_by(of.at.desc(), of.lot.desc()).limit(wanted.limit)
