"""Migrations as they meet a mill: grades are in the tables, several start at once, and somebody sits at the console."""

import asyncio
from datetime import UTC, datetime
from pathlib import Path

import pytest
from alembic.script import ScriptDirectory
from sqlalchemy import text

from service.ports.catalogue import CatalogueAwayError, Draft, TablesVersion, Withdrawn
from service.storage import database
from service.storage.catalogue import DatabaseCatalogue
from service.storage.database import SCHEMA, Database, migrate_database
from service.storage.database.migrating import migrations
from tests.support.databases import new_database
from tests.support.servers import SECONDS_TO_END, command, environment

GRADE = "TB-130"
FIRST = "0001"
CREATED = datetime(2026, 1, 1, tzinfo=UTC)
"""1 767 225 600 s after 1970."""
FROM_THE_FIRST = (
    "INSERT INTO grades VALUES ('TB-130', 1767225600000000)",
    "INSERT INTO revisions VALUES ('TB-130', 1, '{\"title\":\"é\"}', 'sha256:1', 1767225600000000)",
    "INSERT INTO revisions VALUES ('TB-130', 2, '{}', 'sha256:2', 1767225600000001)",
    "INSERT INTO releases VALUES ('TB-130', 1, 1767225660000000, 1767225600000000, 1)",
    "INSERT INTO withdrawals VALUES ('TB-130', 1, 1767225720000000, 'Too weak.', 2)",
    "UPDATE catalogue_version SET version = 2",
)
"""A grade as a database holds it whose tables are of the first version."""


def versions() -> list[str]:
    """All versions of the tables, the first one first."""
    return [script.revision for script in ScriptDirectory(str(migrations())).walk_revisions()][::-1]


async def filled(url: str) -> None:
    """Tables of the first version, with a grade in them."""
    await migrate_database(url, FIRST)
    opened = database(url)
    async with opened.writing() as connection:
        for statement in FROM_THE_FIRST:
            await connection.exec_driver_sql(statement)
    await opened.close()


async def told(opened: Database, statement: str) -> None:
    """Execute a statement as somebody at the database's console would."""
    async with opened.writing() as connection:
        await connection.execute(text(statement))


async def test_grades_come_through_every_migration(empty_url: str) -> None:
    """A mill that skipped releases finds all that it has released, to the microsecond, and can go back and forth."""
    await filled(empty_url)
    for version in versions():
        await migrate_database(empty_url, version)
    for version in versions()[::-1]:
        await migrate_database(empty_url, version, down=True)
    await migrate_database(empty_url)
    opened = database(empty_url)
    catalogue = DatabaseCatalogue(opened)

    withdrawn = Withdrawn(
        grade=GRADE,
        number=1,
        digest="sha256:1",
        created_at=CREATED,
        effective_from=CREATED.replace(minute=1),
        released_at=CREATED,
        withdrawn_at=CREATED.replace(minute=2),
        reason="Too weak.",
    )
    draft = Draft(grade=GRADE, number=2, digest="sha256:2", created_at=CREATED.replace(microsecond=1))
    assert [withdrawn, draft] == await catalogue.revisions(GRADE, 0, 9)
    assert '{"title":"é"}'.encode() == await catalogue.specification(GRADE, 1)
    assert 2 == (await catalogue.current_state()).version
    await opened.close()


@pytest.mark.parametrize(
    "statement",
    [
        "DELETE FROM revisions",
        "DELETE FROM releases",
        "DELETE FROM withdrawals",
        "UPDATE revisions SET number = 7",
        "UPDATE releases SET number = 2",
        "UPDATE withdrawals SET number = 2",
    ],
)
async def test_what_is_released_is_kept_after_every_migration(empty_url: str, statement: str) -> None:
    """A table that is built anew loses its triggers in SQLite, and with them the promise."""
    await filled(empty_url)
    for version in versions():
        await migrate_database(empty_url, version)
        opened = database(empty_url)
        with pytest.raises(CatalogueAwayError) as raised:
            await told(opened, statement)
        assert "what is released never changes" in str(raised.value.__cause__)
        await opened.close()


async def test_two_processes_that_migrate_at_once_both_end_well(empty_url: str, tmp_path: Path) -> None:
    """Two replicas are started by one command; neither may find half of the tables."""
    settings = environment(tmp_path, DATABASE_URL=empty_url)
    both = [
        await asyncio.create_subprocess_exec(
            *command("migrate"), env=settings, stdout=asyncio.subprocess.PIPE, stderr=asyncio.subprocess.PIPE
        )
        for _ in range(2)
    ]
    async with asyncio.timeout(SECONDS_TO_END):
        said = [await process.communicate() for process in both]

    assert [(f"The tables are of version {SCHEMA}.\n".encode(), b"")] * 2 == said
    assert [0, 0] == [process.returncode for process in both]
    opened = database(empty_url)
    assert TablesVersion(SCHEMA, "0007") == await DatabaseCatalogue(opened).tables_version()
    assert 0 == (await DatabaseCatalogue(opened).current_state()).version
    await opened.close()


@pytest.fixture
def server_url(postgresql_server: str) -> str:
    """The URL of an empty database in PostgreSQL."""
    return new_database(postgresql_server)


@pytest.mark.parametrize(
    "tables", ["releases", "withdrawals", "releases, withdrawals", "releases CASCADE", "revisions CASCADE", "grades CASCADE"]
)
async def test_tables_are_not_emptied_at_once(server_url: str, tables: str) -> None:
    """PostgreSQL's TRUNCATE asks no trigger on DELETE, and would take all that lots were judged by."""
    await filled(server_url)
    await migrate_database(server_url)
    opened = database(server_url)
    with pytest.raises(CatalogueAwayError):
        await told(opened, f"TRUNCATE {tables}")

    assert 2 == len(await DatabaseCatalogue(opened).revisions(GRADE, 0, 9))
    assert 1 == len(await DatabaseCatalogue(opened).final_revisions(GRADE))
    await opened.close()
