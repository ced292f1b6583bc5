"""The floor of the ledger's bench: a handler that stores a row and a journal entry by SQLAlchemy's ORM in one transaction.

What a careful team would write on the same stack, and nothing more: nothing is judged, no lot is looked up, no batch is
recognised that comes again, and no entry of the journal is chained to the one before. `granian --interface asgi --factory
tests.bench.orm_floor:create_app` serves it on the database that ORM_FLOOR_URL names.
"""

import os
from datetime import UTC, datetime
from typing import Annotated, Any

from litestar import Litestar, get, post
from litestar.di import NamedDependency, Provide
from litestar.params import FromPath, JSONBody
from msgspec import Meta, Struct, json
from sqlalchemy import Connection, event, make_url
from sqlalchemy.ext.asyncio import AsyncSession, async_sessionmaker, create_async_engine
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column
from sqlalchemy.pool import ConnectionPoolEntry

URL = "ORM_FLOOR_URL"
CONNECTIONS = {"sqlite": 5, "postgresql": 16}
"""As many as serve 16 callers best: with SQLAlchemy's own default PostgreSQL's overflow is connected anew over and over."""
Name = Annotated[str, Meta(min_length=1, max_length=64)]


class Base(DeclarativeBase):
    """All tables."""


class ReadingRow(Base):
    """A reading."""

    __tablename__ = "floor_reading"
    id: Mapped[int] = mapped_column(primary_key=True)
    lot: Mapped[str]
    batch: Mapped[str]
    characteristic: Mapped[str]
    package: Mapped[str]
    unit: Mapped[str]
    value: Mapped[float]


class EntryRow(Base):
    """What the journal says of it."""

    __tablename__ = "floor_journal"
    id: Mapped[int] = mapped_column(primary_key=True)
    at: Mapped[str]
    by: Mapped[str]
    entry: Mapped[str]


class Reading(Struct, frozen=True):
    """What is sent."""

    batch: Name
    characteristic: Name
    package: Name
    unit: Name
    value: float


class Stored(Struct, frozen=True):
    """What is answered."""

    lot: str
    batch: str


@get("/health")
async def health() -> str:
    """Told as soon as requests are answered."""
    return "well"


@post("/lots/{lot:str}/readings")
async def store(lot: FromPath[str], data: JSONBody[Reading], sessions: NamedDependency[Any]) -> Stored:
    """Keep a reading; it is durable when this returns."""
    entry = {"what": "reading", "lot": lot, "batch": data.batch}
    async with sessions.begin() as session:
        session.add(
            ReadingRow(
                lot=lot,
                batch=data.batch,
                characteristic=data.characteristic,
                package=data.package,
                unit=data.unit,
                value=data.value,
            )
        )
        session.add(EntryRow(at=datetime.now(UTC).isoformat(), by="local", entry=json.encode(entry).decode()))
    return Stored(lot, data.batch)


def create_app() -> Litestar:
    """The application on the database that the environment names; its tables are made at start."""
    url = make_url(os.environ[URL])
    engine = create_async_engine(url, pool_size=CONNECTIONS[url.get_backend_name()], max_overflow=0)
    if engine.dialect.name == "sqlite":
        event.listen(engine.sync_engine, "connect", _prepare)
        event.listen(engine.sync_engine, "begin", _begin)
    sessions: async_sessionmaker[AsyncSession] = async_sessionmaker(engine, expire_on_commit=False)

    async def make_tables() -> None:
        async with engine.begin() as connection:
            await connection.run_sync(Base.metadata.create_all)

    def given() -> async_sessionmaker[AsyncSession]:
        return sessions

    return Litestar(
        [health, store],
        dependencies={"sessions": Provide(given, sync_to_thread=False)},
        on_startup=[make_tables],
        on_shutdown=[engine.dispose],
        openapi_config=None,
        logging_config=None,
    )


def _prepare(connection: Any, _entry: ConnectionPoolEntry) -> None:
    """Nothing acknowledged that a crash could lose, as in the service."""
    connection.isolation_level = None
    cursor = connection.cursor()
    for pragma in ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON"):
        cursor.execute(f"PRAGMA {pragma}")
    cursor.close()


def _begin(connection: Connection) -> None:
    connection.exec_driver_sql("BEGIN IMMEDIATE")
