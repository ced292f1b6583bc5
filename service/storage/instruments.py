"""The Instruments port over a database; each version of an instrument is one row."""

from collections.abc import Collection, Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, Row, Select, func, insert, select

from service.engine.documents import digest_of, quoted
from service.ports.instruments import Due, InstrumentRow, InstrumentUnknownError
from service.storage.database import Database, instrument_terms, instruments, lock_catalogue, to_moment
from service.storage.journal import append


class DatabaseInstruments:
    """Register of instruments in SQLite or PostgreSQL."""

    def __init__(self, database: Database) -> None:
        """Use a database whose tables exist."""
        self._database = database

    async def put(self, instrument: str, document: bytes, by: str) -> tuple[InstrumentRow, bool]:
        """Store a new version, or return the newest one if it has the same document."""
        async with self._database.writing() as connection:
            now = await lock_catalogue(connection)
            known = (await connection.run_sync(newest_versions, [instrument])).get(instrument)
            if known and known.document == document:
                return known, False
            number = known.number + 1 if known else 1
            values = {"instrument": instrument, "number": number, "at": now, "by": by, "document": document.decode()}
            await connection.execute(insert(instruments).values(values))
            about = {"instrument": instrument, "version": number, "kept": digest_of(document)}
            await append(connection, now, by, {"what": "instrument-recorded", **about})
            return InstrumentRow(instrument=instrument, number=number, at=to_moment(now), by=by, document=document), True

    async def version(self, instrument: str, number: int | None = None) -> InstrumentRow:
        """Return a version, the newest for None."""
        of = instruments.c
        query = select(instruments).where(of.instrument == instrument).order_by(of.number.desc()).limit(1)
        async with self._database.reading() as connection:
            row = (await connection.execute(query if number is None else query.where(of.number == number))).first()
        if row is None:
            what = "instrument" if number is None else f"version {number} of instrument"
            raise InstrumentUnknownError(
                f"There is no {what} {quoted(instrument)}. `GET /v1/instruments` lists the instruments."
            )
        return _instrument(row)

    async def listed(self, after: str, limit: int, due: Due | None = None) -> Sequence[InstrumentRow]:
        """Return newest versions in order of the instruments' ids."""
        query = instruments_query(after, due).limit(limit)
        async with self._database.reading() as connection:
            return [_instrument(row) for row in await connection.execute(query)]


def instruments_query(after: str, due: Due | None) -> Select[*tuple[Any, ...]]:
    """The query for a list, in order of the instruments' ids."""
    of, query = instruments.c, _newest().where(instruments.c.instrument > after)
    if due is not None:
        overdue = select(instrument_terms.c.instrument).where(instrument_terms.c.calibrated_until < due.day)
        query = query.where(of.instrument.in_(overdue) if due.is_overdue else of.instrument.not_in(overdue))
    return query.order_by(of.instrument)


def newest_versions(connection: Connection, names: Collection[str]) -> Mapping[str, InstrumentRow]:
    """Read the newest versions of the registered ones of these instruments, by id, within a transaction."""
    # Most groups name no instrument, and this saves them the query.
    if not names:
        return {}
    rows = connection.execute(_newest().where(instruments.c.instrument.in_(names)))
    return {row.instrument: _instrument(row) for row in rows}


def _newest() -> Select[*tuple[Any, ...]]:
    """The query for the newest version of each instrument."""
    other = instruments.alias()
    last = select(func.max(other.c.number)).where(other.c.instrument == instruments.c.instrument).scalar_subquery()
    return select(instruments).where(instruments.c.number == last)


def _instrument(row: Row[*tuple[Any, ...]]) -> InstrumentRow:
    """Return a row as an InstrumentRow."""
    return InstrumentRow(
        instrument=row.instrument, number=row.number, at=to_moment(row.at), by=row.by, document=row.document.encode()
    )
