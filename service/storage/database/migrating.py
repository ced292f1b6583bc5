"""Bringing a database's tables to the version that this release works on."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, event, text
from sqlalchemy.ext.asyncio import AsyncConnection, create_async_engine
from sqlalchemy.pool import NullPool

from service.ports.catalogue import TablesVersion
from service.storage.database.connecting import begin_sqlite, errors_as_away, make_file, url_of
from service.storage.database.tables import SCHEMA

if TYPE_CHECKING:
    from alembic.config import Config

PACKAGE = Path(str(files("service")))
LOCK = 6_117_120_133
"""Of PostgreSQL, held while migrating, so that replicas that start together wait for each other; a number of our own."""


def migrate(url: str, to: str = "head") -> None:
    """Upgrade the tables of a database; nothing where they are of that version. Raises CatalogueAwayError."""
    asyncio.run(migrate_database(url, to))


async def migrate_database(url: str, to: str = "head", *, down: bool = False) -> None:
    """The same where a loop runs already; `down` goes back to an older version."""
    async with making_tables(url) as connection:
        await migrate_in(connection, to, down=down)


async def migrate_in(connection: AsyncConnection, to: str = "head", *, down: bool = False) -> None:
    """The same in a transaction of `making_tables`, which may do more than that."""
    await connection.run_sync(_run, to, down)


@asynccontextmanager
async def making_tables(url: str) -> AsyncIterator[AsyncConnection]:
    """A transaction in which tables are made and altered: all that is done in it stays, or nothing.

    Raises CatalogueAwayError.
    """
    make_file(url)
    engine = create_async_engine(url_of(url), poolclass=NullPool)
    if engine.dialect.name == "sqlite":
        event.listen(engine.sync_engine, "connect", _prepare_sqlite)
        event.listen(engine.sync_engine, "begin", begin_sqlite)
    try:
        async with errors_as_away(), engine.begin() as connection:
            await _take_lock(connection)
            yield connection
            if broken := await broken_references(connection):
                raise RuntimeError(f"{broken} rows point to rows that are gone; nothing was changed.")
    finally:
        await engine.dispose()


def are_behind(tables: TablesVersion | None) -> bool:
    """True where this release has something to migrate; newer tables stay as a newer release has made them."""
    return tables is None or tables.version < SCHEMA


def migrations() -> Path:
    """Where the migrations are: inside the package where it is installed, beside it in a checkout."""
    inside = PACKAGE / "migrations"
    return inside if inside.exists() else PACKAGE.parent / "migrations"


def configuration(connection: Connection) -> "Config":
    """Alembic's, without a file of its own."""
    # Alembic takes a tenth of a second to import, and a database that is up to date needs none of it.
    from alembic.config import Config

    made = Config(attributes={"connection": connection})
    made.set_main_option("script_location", str(migrations()).replace("%", "%%"))
    return made


def _run(connection: Connection, to: str, down: bool) -> None:  # noqa: FBT001  run_sync passes by place
    from alembic import command

    (command.downgrade if down else command.upgrade)(configuration(connection), to)


async def _take_lock(connection: AsyncConnection) -> None:
    """SQLite's transaction holds its lock already."""
    if connection.dialect.name == "postgresql":
        await connection.execute(text(f"SELECT pg_advisory_xact_lock({LOCK})"))


async def broken_references(connection: AsyncConnection) -> int:
    """How many rows point to rows that are gone. SQLite rebuilds tables with foreign keys off; PostgreSQL takes no such row."""
    if connection.dialect.name != "sqlite":
        return 0
    return len((await connection.execute(text("PRAGMA foreign_key_check"))).all())


def _prepare_sqlite(connection: Any, _entry: object) -> None:  # the driver's own type
    connection.isolation_level = None
