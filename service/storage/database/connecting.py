"""Database connections: the driver, time-outs, and how transactions begin."""

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
"""SQLAlchemy's driver by the scheme of the URL, with or without a driver."""
READING = "markeryarn_reading"
SECONDS_FOR_ALL = 3600.0
"""Time-out of statements that read a whole table, for which no request waits."""


class Connections(NamedTuple):
    """The connections of a pool: in use now, and at most."""

    in_use: int
    most: int


class Database(NamedTuple):
    """An engine and the time-out of its statements, in seconds."""

    engine: AsyncEngine
    timeout_s: float

    @property
    def is_embedded(self) -> bool:
        """True for SQLite."""
        return self.engine.dialect.name == "sqlite"

    @property
    def connections(self) -> Connections:
        """Number of connections in use, and the pool's size."""
        pool = self.engine.pool
        assert isinstance(pool, QueuePool)
        return Connections(pool.checkedout(), pool.size())

    @contextlib.asynccontextmanager
    async def reading(self) -> AsyncIterator[AsyncConnection]:
        """Open a connection for reading; each statement sees one state of the database, two may see different ones."""
        async with errors_translated(), self.engine.connect() as connection:
            yield await connection.execution_options(**{READING: True})

    @contextlib.asynccontextmanager
    async def snapshot(self) -> AsyncIterator[AsyncConnection]:
        """Open a connection for reading whose statements all see the database as it was at the first one."""
        # A transaction of SQLite is a snapshot already; by default one of PostgreSQL sees commits between its statements.
        async with errors_translated(), self.engine.connect() as connection:
            options = (
                {READING: True} if self.is_embedded else {"isolation_level": "REPEATABLE READ", "postgresql_readonly": True}
            )
            yield await connection.execution_options(**options)

    @contextlib.asynccontextmanager
    async def writing(self) -> AsyncIterator[AsyncConnection]:
        """Open a transaction that is committed at the end of the block, or rolled back on an exception."""
        async with errors_translated(), self.engine.begin() as connection:
            yield connection

    async def close(self) -> None:
        """Close all connections."""
        await self.engine.dispose()


@contextlib.asynccontextmanager
async def errors_translated() -> AsyncIterator[None]:
    """Raise CatalogueAwayError for every error of driver and system, time-outs included, with the cause for the log."""
    try:
        yield
    except (SQLAlchemyError, OSError) as error:
        text = "The database does not answer. Try again in a moment; `GET /health/ready` may say why."
        raise CatalogueAwayError(text, why(error)) from error


def url_of(text: str) -> URL:
    """Parse a URL and set the driver in use. Raises KeyError for an unknown scheme, ArgumentError for no URL."""
    url = make_url(text)
    return url.set(drivername=DRIVERS[url.drivername])


def file_of(text: str) -> Path | None:
    """Path of an embedded database; None for one on a server."""
    url = url_of(text)
    return Path(str(url.database)) if url.drivername == DRIVERS["sqlite"] else None


def make_file(text: str) -> None:
    """Create the file of an embedded database, readable by its owner alone, if it does not exist.

    Raises CatalogueAwayError.
    """
    file = file_of(text)
    if file is None or file.exists():
        return
    try:
        file.touch(mode=0o600)
    except OSError as error:
        cause = f"{file} can't be created ({error.strerror}). Correct the path in {SETTING}, or the rights of its folder."
        raise CatalogueAwayError("There is no database yet.", cause) from error


@contextlib.contextmanager
def exclusive_lock(text: str) -> Iterator[bool]:
    """Lock an embedded database's file until the end of the block; False if another process holds it, True for a server."""
    file = file_of(text)
    if file is None:
        yield True
        return
    # By flock, which is independent of the ranges that SQLite locks by fcntl. The file has to stay open until SQLite has
    # closed it: POSIX releases all fcntl locks of a process on a file as soon as any descriptor of it is closed.
    with file.open("rb") as lock_file:
        try:
            fcntl.flock(lock_file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            yield False
        else:
            yield True


def database(text: str, *, timeout_s: float = 5, pool_size: int = 5) -> Database:
    """Return the Database for a URL, `sqlite:///FILE` or `postgresql://…`, without connecting.

    timeout_s  time-out in seconds of a statement, a lock, and a free connection of the pool
    pool_size  maximum number of connections
    """
    url = url_of(text)
    # max_overflow: SQLAlchemy's default opens ten more connections than the pool has.
    # hide_parameters: errors name the statement without its values, as digests of keys don't belong in a log.
    pool: dict[str, Any] = {"pool_size": pool_size, "max_overflow": 0, "pool_timeout": timeout_s, "hide_parameters": True}
    if url.drivername == DRIVERS["sqlite"]:
        engine = create_async_engine(url, connect_args={"timeout": timeout_s}, **pool)
        event.listen(engine.sync_engine, "connect", _prepare_sqlite)
        event.listen(engine.sync_engine, "begin", begin_sqlite)
        return Database(engine, timeout_s)
    # Limited on the server too: after a time-out on this side alone the statement would still run and hold its locks.
    milliseconds = str(int(timeout_s * 1000))
    settings = {"statement_timeout": milliseconds, "lock_timeout": milliseconds, "timezone": "UTC"}
    arguments = {"timeout": timeout_s, "command_timeout": timeout_s, "server_settings": settings}
    engine = create_async_engine(url, connect_args=arguments, pool_pre_ping=True, **pool)
    return Database(engine, timeout_s)


@contextlib.asynccontextmanager
async def open_database(text: str, *, timeout_s: float = SECONDS_FOR_ALL) -> AsyncIterator[Database]:
    """Open a Database for a command, and close its connections at the end of the block.

    Raises CatalogueAwayError if the file of an embedded database does not exist: a mistyped path creates no new database.
    """
    file = file_of(text)
    if file and not file.exists():
        cause = f"There is no database in {file}. Correct the path in {SETTING}, or create it with `markeryarn migrate`."
        raise CatalogueAwayError("There is no database yet.", cause)
    temporary = database(text, timeout_s=timeout_s)
    try:
        yield temporary
    finally:
        await temporary.close()


def _prepare_sqlite(connection: Any, _entry: ConnectionPoolEntry) -> None:  # the driver's own type
    """Set up a SQLite connection: WAL, so that readers don't wait for the writer; durable commits; no implicit transactions."""
    # Python's sqlite3 would otherwise begin transactions implicitly, and only before statements that write.
    connection.isolation_level = None
    try:
        cursor = connection.cursor()
        for pragma in ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON"):
            cursor.execute(f"PRAGMA {pragma}")
        cursor.close()
    except BaseException:
        # The pool does not close a connection whose set-up fails, so each attempt would leave one open, with its thread.
        connection.close()
        raise


def begin_sqlite(connection: Connection) -> None:
    """Begin a transaction; one that writes takes the lock immediately."""
    # In WAL mode a transaction that reads first can't write once another one has: it fails at once, whatever the time-out.
    is_reading = connection.get_execution_options().get(READING, False)
    connection.exec_driver_sql("BEGIN" if is_reading else "BEGIN IMMEDIATE")
