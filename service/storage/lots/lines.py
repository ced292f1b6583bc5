"""The Lines port over a database; results are a column of verdicts, decisions a table."""

from typing import Any

from sqlalchemy import Row, insert, select
from sqlalchemy.ext.asyncio import AsyncConnection

from service.engine.documents import digest_of
from service.ports.catalogue import Moment
from service.ports.lines import LineDecision, LineHistoryPart, LineLot
from service.storage.database import (
    Database,
    line_decisions,
    lock_catalogue,
    lots,
    now_expression,
    to_microseconds,
    to_moment,
    verdicts,
)
from service.storage.journal import append
from service.storage.lots.closed_lots import FIRST


class DatabaseLines:
    """Production lines in SQLite or PostgreSQL."""

    def __init__(self, database: Database) -> None:
        """Use a database whose tables exist."""
        self._database = database

    async def recorded(self, grade: str, line: str, since: Moment | None) -> LineHistoryPart:
        """Return verdicts and decisions of a line from `since` on."""
        async with self._database.reading() as connection:
            # Read first: what is committed while the rest is read is then read again the next time, rather than missed.
            now = to_moment((await connection.execute(select(now_expression(connection)))).scalar_one())
            found = await _lots(connection, grade, line, since)
            of = line_decisions.c
            query = select(line_decisions).where(of.grade == grade, of.line == line)
            if since is not None:
                query = query.where(of.at >= to_microseconds(since))
            decisions = [_decision(row) for row in await connection.execute(query)]
        return LineHistoryPart(now=now, lots=found, decisions=decisions)

    async def decide(self, grade: str, line: str, decision: str, document: bytes, by: str) -> tuple[LineDecision, bool]:
        """Store a decision, or return the stored one with this id."""
        of = line_decisions.c
        async with self._database.writing() as connection:
            now = await lock_catalogue(connection)
            query = select(line_decisions).where(of.grade == grade, of.line == line, of.id == decision)
            if existing := (await connection.execute(query)).first():
                return _decision(existing), False
            named = {"grade": grade, "line": line, "id": decision}
            await connection.execute(insert(line_decisions).values(**named, at=now, by=by, document=document.decode()))
            await append(connection, now, by, {"what": "inspection-decided", **named, "kept": digest_of(document)})
            return LineDecision(id=decision, at=to_moment(now), by=by, document=document), True


async def _lots(connection: AsyncConnection, grade: str, line: str, since: Moment | None) -> list[LineLot]:
    """Read the verdicts on the line's lots, each with the moment of its lot's first verdict."""
    of, first = verdicts.c, verdicts.alias()
    is_first = (first.c.lot == of.lot) & (first.c.number == FIRST)
    query = select(of.lot, of.number, of.results, first.c.at).join(lots, lots.c.lot == of.lot).join(first, is_first)
    query = query.where(of.grade == grade, lots.c.line == line)
    if since is not None:
        query = query.where(of.at >= to_microseconds(since))
    return [
        LineLot(lot=row.lot, at=to_moment(row.at), number=row.number, results=row.results.encode())
        for row in await connection.execute(query)
    ]


def _decision(row: Row[*tuple[Any, ...]]) -> LineDecision:
    """Return a row as a LineDecision."""
    return LineDecision(id=row.id, at=to_moment(row.at), by=row.by, document=row.document.encode())
