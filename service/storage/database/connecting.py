"""Connections: which driver, with which time-outs, and how a transaction begins."""

import contextlib
import fcntl
from collections.abc import AsyncIterator, Iterator
from pathlib import Path
from typing import Any, NamedTuple

from sqlalchemy import Connection, event
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import SQLAlchemyError
from sqlalchemy.ext.asyncio import AsyncConnection, AsyncEngine, create_async_engine
from sqlalchemy.pool import ConnectionPoolEntry, QueuePool

from service.ports.catalogue import CatalogueAwayError
from service.storage.database.causes import SETTING, why

DRIVERS = {
    "sqlite": "sqlite+aiosqlite",
    "sqlite+aiosqlite": "sqlite+aiosqlite",
    "postgresql": "postgresql+asyncpg",
    "postgres": "postgresql+asyncpg",
    "postgresql+asyncpg": "postgresql+asyncpg",
}
"""By the scheme of a database's URL; the driver need not be named."""
READING = "markeryarn_reading"
SECONDS_FOR_ALL = 3600.0
"""For a statement that goes through all that is kept, which no request waits for."""


class Connections(NamedTuple):
    """Connections of a pool."""

    in_use: int
    most: int


class Database(NamedTuple):
    """An engine, and how long a statement may take."""

    engine: AsyncEngine
    timeout_s: float

    @property
    def is_embedded(self) -> bool:
        """True for SQLite."""
        return self.engine.dialect.name == "sqlite"

    @property
    def connections(self) -> Connections:
        """How many of its connections are at work now."""
        pool = self.engine.pool
        assert isinstance(pool, QueuePool)
        return Connections(pool.checkedout(), pool.size())

    @contextlib.asynccontextmanager
    async def reading(self) -> AsyncIterator[AsyncConnection]:
        """A connection to read by; each of its statements sees one state of the database."""
        async with errors_as_away(), self.engine.connect() as connection:
            yield await connection.execution_options(**{READING: True})

    @contextlib.asynccontextmanager
    async def one_state(self) -> AsyncIterator[AsyncConnection]:
        """A connection whose statements all see the database as it was at the first of them, whoever writes meanwhile."""
        # SQLite's transactions are so anyhow; PostgreSQL's see what others commit between two statements by default.
        async with errors_as_away(), self.engine.connect() as connection:
            options = (
                {READING: True} if self.is_embedded else {"isolation_level": "REPEATABLE READ", "postgresql_readonly": True}
            )
            yield await connection.execution_options(**options)

    @contextlib.asynccontextmanager
    async def writing(self) -> AsyncIterator[AsyncConnection]:
        """A transaction that is committed at its end, or not at all."""
        async with errors_as_away(), self.engine.begin() as connection:
            yield connection

    async def close(self) -> None:
        """End all connections."""
        await self.engine.dispose()


@contextlib.asynccontextmanager
async def errors_as_away() -> AsyncIterator[None]:
    """Whatever keeps the database from answering, time-outs too, is one error to the use cases; the log has its cause."""
    try:
        yield
    except (SQLAlchemyError, OSError) as error:
        text = "The database does not answer as it should. `GET /health/ready` may tell why; ask again in a moment."
        raise CatalogueAwayError(text, why(error)) from error


def url_of(text: str) -> URL:
    """The URL with the driver that we use. Raises KeyError for a scheme that is not known, ArgumentError for no URL at all."""
    url = make_url(text)
    return url.set(drivername=DRIVERS[url.drivername])


def file_of(text: str) -> Path | None:
    """The file of an embedded database; None where it is on a server."""
    url = url_of(text)
    return Path(str(url.database)) if url.drivername == DRIVERS["sqlite"] else None


def make_file(text: str) -> None:
    """Make the file of an embedded database for its owner alone, where it is not there; SQLite's own beside it are so too.

    Raises CatalogueAwayError.
    """
    file = file_of(text)
    if file is None or file.exists():
        return
    try:
        file.touch(mode=0o600)
    except OSError as error:
        cause = f"{file} can't be made ({error.strerror}). Correct the path in {SETTING}, or the rights of its folder."
        raise CatalogueAwayError("There is no database yet.", cause) from error


@contextlib.contextmanager
def held_alone(text: str) -> Iterator[bool]:
    """Whether no other process holds the file of an embedded database so; it is held until the end. True for a server."""
    file = file_of(text)
    if file is None:
        yield True
        return
    # SQLite locks parts of the file, by another kind of lock; closed before SQLite has, this would end those too.
    with file.open("rb") as held:
        try:
            fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            yield False
        else:
            yield True


def database(text: str, *, timeout_s: float = 5, pool_size: int = 5) -> Database:
    """The database at a URL: `sqlite:///FILE`, `postgresql://…`.

    timeout_s  for a statement, a lock, a free connection of the pool
    pool_size  connections at most
    """
    url = url_of(text)
    # SQLAlchemy would open ten more than the pool's when many ask at once.
    # Errors tell the statement, but not what it was given: a log is no place for grades and digests of keys.
    pool: dict[str, Any] = {"pool_size": pool_size, "max_overflow": 0, "pool_timeout": timeout_s, "hide_parameters": True}
    if url.drivername == DRIVERS["sqlite"]:
        engine = create_async_engine(url, connect_args={"timeout": timeout_s}, **pool)
        event.listen(engine.sync_engine, "connect", _prepare_sqlite)
        event.listen(engine.sync_engine, "begin", begin_sqlite)
        return Database(engine, timeout_s)
    milliseconds = str(int(timeout_s * 1000))
    settings = {"statement_timeout": milliseconds, "lock_timeout": milliseconds, "timezone": "UTC"}
    arguments = {"timeout": timeout_s, "command_timeout": timeout_s, "server_settings": settings}
    engine = create_async_engine(url, connect_args=arguments, pool_pre_ping=True, **pool)
    return Database(engine, timeout_s)


@contextlib.asynccontextmanager
async def opened(text: str, *, timeout_s: float = SECONDS_FOR_ALL) -> AsyncIterator[Database]:
    """The same for as long as one piece of work takes, which no request waits for; its connections end with it.

    Raises CatalogueAwayError where it is a file that is not there: a path that was mistyped makes no new database.
    """
    file = file_of(text)
    if file and not file.exists():
        cause = f"There is no database in {file}. Correct the path in {SETTING}, or make it by `markeryarn migrate`."
        raise CatalogueAwayError("There is no database yet.", cause)
    made = database(text, timeout_s=timeout_s)
    try:
        yield made
    finally:
        await made.close()


def _prepare_sqlite(connection: Any, _entry: ConnectionPoolEntry) -> None:  # the driver's own type
    """Readers beside one writer, nothing acknowledged that a crash could lose, and transactions begun by us alone."""
    connection.isolation_level = None
    try:
        cursor = connection.cursor()
        for pragma in ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON"):
            cursor.execute(f"PRAGMA {pragma}")
        cursor.close()
    except BaseException:
        # The pool would leave it open, and its thread with it, each time that somebody asks.
        connection.close()
        raise


def begin_sqlite(connection: Connection) -> None:
    """A writer takes the lock at once: two that first read and then write would deadlock."""
    is_reading = connection.get_execution_options().get(READING, False)
    connection.exec_driver_sql("BEGIN" if is_reading else "BEGIN IMMEDIATE")
