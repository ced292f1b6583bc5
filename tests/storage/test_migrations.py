"""The tables are those that this release works on, in both databases."""

import asyncio

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, text

from service.ports.catalogue import CatalogueAwayError, TablesVersion
from service.storage import database
from service.storage.catalogue import DatabaseCatalogue
from service.storage.database import SCHEMA, Database, metadata, migrate_database
from service.storage.database.migrating import migrations
from tests.support.servers import SECONDS_TO_END


def test_this_release_works_on_the_newest_version() -> None:
    """A release that forgot its own migration would never be ready."""
    assert SCHEMA == ScriptDirectory(str(migrations())).get_current_head()


async def test_an_empty_database_has_no_version(empty_url: str) -> None:
    """A replica on a database that nobody migrated says so."""
    opened = database(empty_url)

    assert await DatabaseCatalogue(opened).tables_version() is None
    await opened.close()


async def test_a_table_of_another_make_is_not_taken_for_none(empty_url: str) -> None:
    """Whoever named the database of another program is not told to migrate it."""
    opened = database(empty_url)
    async with opened.writing() as connection:
        await connection.execute(text("CREATE TABLE alembic_version (release TEXT)"))
    with pytest.raises(CatalogueAwayError):
        await DatabaseCatalogue(opened).tables_version()
    await opened.close()


async def test_the_migrated_tables_are_those_that_are_asked(store: Database) -> None:
    """A column that only one of both knows would be found in the mill, not here."""

    def differing(connection: Connection) -> list[object]:
        return list(compare_metadata(MigrationContext.configure(connection), metadata))

    async with store.engine.connect() as connection:
        assert [] == await connection.run_sync(differing)


async def test_replicas_that_start_together_migrate_once(empty_url: str) -> None:
    """Each waits for the other, and all find the tables."""
    async with asyncio.timeout(SECONDS_TO_END):
        await asyncio.gather(*(migrate_database(empty_url) for _ in range(3)))
    opened = database(empty_url)

    assert TablesVersion(SCHEMA, "0007") == await DatabaseCatalogue(opened).tables_version()
    await opened.close()


async def test_the_newest_version_goes_down_and_up_again(empty_url: str) -> None:
    """A release that disappoints can be taken back, with grades in the tables."""
    await migrate_database(empty_url)
    opened = database(empty_url)
    await DatabaseCatalogue(opened).add_draft("TB-130", b"{}", "a")
    await DatabaseCatalogue(opened).release("TB-130", 1, None, None)
    await opened.close()
    await migrate_database(empty_url, "-1", down=True)
    await migrate_database(empty_url)
    again = database(empty_url)

    assert TablesVersion(SCHEMA, "0007") == await DatabaseCatalogue(again).tables_version()
    await again.close()
