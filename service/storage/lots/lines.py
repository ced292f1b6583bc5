"""Lines over a database: the results of their lots stand beside the verdicts, decisions in a table of their own."""

from typing import Any

from sqlalchemy import Row, insert, select
from sqlalchemy.ext.asyncio import AsyncConnection

from service.engine.documents import digest_of
from service.ports.catalogue import Moment
from service.ports.lines import LineDecision, LineHistoryPart, LineLot
from service.storage.database import Database, line_decisions, lock_catalogue, lots, moment, now_of, stored, verdicts
from service.storage.journal import append
from service.storage.lots.closed_lots import FIRST


class DatabaseLines:
    """Lines in SQLite or PostgreSQL."""

    def __init__(self, database: Database) -> None:
        """Read and keep them there."""
        self._database = database

    async def recorded(self, grade: str, line: str, since: Moment | None) -> LineHistoryPart:
        """What was recorded of a line from a moment on."""
        async with self._database.reading() as connection:
            # Asked before: what is committed while this reads is then read again the next time, and not passed over.
            now = moment((await connection.execute(select(now_of(connection)))).scalar_one())
            found = await _lots(connection, grade, line, since)
            of = line_decisions.c
            query = select(line_decisions).where(of.grade == grade, of.line == line)
            if since is not None:
                query = query.where(of.at >= stored(since))
            decisions = [_decision(row) for row in await connection.execute(query)]
        return LineHistoryPart(now=now, lots=found, decisions=decisions)

    async def decide(self, grade: str, line: str, decision: str, document: bytes, by: str) -> tuple[LineDecision, bool]:
        """A new decision, or the one under this id."""
        of = line_decisions.c
        async with self._database.writing() as connection:
            now = await lock_catalogue(connection)
            query = select(line_decisions).where(of.grade == grade, of.line == line, of.id == decision)
            if there := (await connection.execute(query)).first():
                return _decision(there), False
            named = {"grade": grade, "line": line, "id": decision}
            await connection.execute(insert(line_decisions).values(**named, at=now, by=by, document=document.decode()))
            await append(connection, now, by, {"what": "inspection-decided", **named, "kept": digest_of(document)})
            return LineDecision(id=decision, at=moment(now), by=by, document=document), True


async def _lots(connection: AsyncConnection, grade: str, line: str, since: Moment | None) -> list[LineLot]:
    """The verdicts on the line's lots, each with the moment of its lot's first one."""
    of, first = verdicts.c, verdicts.alias()
    is_first = (first.c.lot == of.lot) & (first.c.number == FIRST)
    query = select(of.lot, of.number, of.results, first.c.at).join(lots, lots.c.lot == of.lot).join(first, is_first)
    query = query.where(of.grade == grade, lots.c.line == line)
    if since is not None:
        query = query.where(of.at >= stored(since))
    return [
        LineLot(lot=row.lot, at=moment(row.at), number=row.number, results=row.results.encode())
        for row in await connection.execute(query)
    ]


def _decision(row: Row[*tuple[Any, ...]]) -> LineDecision:
    """The decision that a row is."""
    return LineDecision(id=row.id, at=moment(row.at), by=row.by, document=row.document.encode())
