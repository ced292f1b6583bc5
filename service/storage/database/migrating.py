"""Migration of a database's tables to the version that this release needs."""

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
from service.storage.database.connecting import begin_sqlite, errors_translated, make_file, url_of
from service.storage.database.tables import SCHEMA

if TYPE_CHECKING:
    from alembic.config import Config

PACKAGE = Path(str(files("service")))
LOCK = 6_117_120_133
"""Number of PostgreSQL's advisory lock held while migrating, so that replicas that start together take turns; chosen freely."""


def migrate(url: str, to: str = "head") -> None:
    """Upgrade the tables of a database; no change if they have that version. Raises CatalogueAwayError."""
    asyncio.run(migrate_database(url, to))


async def migrate_database(url: str, to: str = "head", *, down: bool = False) -> None:
    """Migrate within a running event loop; `down` goes back to an older version. Raises CatalogueAwayError."""
    async with schema_transaction(url) as connection:
        await migrate_in(connection, to, down=down)


async def migrate_in(connection: AsyncConnection, to: str = "head", *, down: bool = False) -> None:
    """Migrate within a transaction of `schema_transaction`."""
    await connection.run_sync(_run, to, down)


@asynccontextmanager
async def schema_transaction(url: str) -> AsyncIterator[AsyncConnection]:
    """Open a transaction that creates and alters tables, committed as a whole or not at all.

    Raises CatalogueAwayError.
    """
    make_file(url)
    # Without the time-outs of requests: a migration may take as long as it needs.
    engine = create_async_engine(url_of(url), poolclass=NullPool)
    if engine.dialect.name == "sqlite":
        event.listen(engine.sync_engine, "connect", _prepare_sqlite)
        event.listen(engine.sync_engine, "begin", begin_sqlite)
    try:
        async with errors_translated(), engine.begin() as connection:
            await _take_lock(connection)
            yield connection
            if broken := await broken_references(connection):
                raise RuntimeError(f"{broken} rows refer to missing rows; nothing was changed.")
    finally:
        await engine.dispose()


def need_migration(tables: TablesVersion | None) -> bool:
    """True if the tables are older than this release needs; newer ones are never migrated back."""
    return tables is None or tables.version < SCHEMA


def migrations() -> Path:
    """Folder of the migrations: inside the installed package, beside it in a checkout."""
    inside = PACKAGE / "migrations"
    return inside if inside.exists() else PACKAGE.parent / "migrations"


def configuration(connection: Connection) -> "Config":
    """Alembic's configuration for a connection, without an ini file."""
    # Imported here, as it takes a tenth of a second and a database that is up to date does not need it.
    from alembic.config import Config

    config = Config(attributes={"connection": connection})
    # Config interpolates percent signs, which a path may have.
    config.set_main_option("script_location", str(migrations()).replace("%", "%%"))
    return config


def _run(connection: Connection, to: str, down: bool) -> None:  # noqa: FBT001  run_sync passes by place
    from alembic import command

    (command.downgrade if down else command.upgrade)(configuration(connection), to)


async def _take_lock(connection: AsyncConnection) -> None:
    """Take the migration lock until the transaction ends; SQLite's transaction has the only lock already."""
    if connection.dialect.name == "postgresql":
        await connection.execute(text(f"SELECT pg_advisory_xact_lock({LOCK})"))


async def broken_references(connection: AsyncConnection) -> int:
    """Count rows whose foreign key refers to no row; always 0 on PostgreSQL, which refuses such rows."""
    if connection.dialect.name != "sqlite":
        return 0
    return len((await connection.execute(text("PRAGMA foreign_key_check"))).all())


def _prepare_sqlite(connection: Any, _entry: object) -> None:  # the driver's own type
    # No pragma for foreign keys: migrations rebuild tables that others refer to. `broken_references` checks at the end.
    connection.isolation_level = None
