"""What tests of several layers share: a catalogue in each database."""

from collections.abc import AsyncIterator, Iterator
from pathlib import Path

import pytest
import pytest_asyncio

from service.storage import Database, DatabaseCatalogue, database
from service.storage.migrating import migrate_database
from tests.support.databases import NoPostgresqlError, drop_database, is_required, new_database, server


@pytest.fixture(scope="session")
def postgresql_server() -> Iterator[str]:
    """The URL of a PostgreSQL server, one for all tests."""
    try:
        with server() as url:
            yield url
    except NoPostgresqlError as error:
        if is_required():
            raise
        pytest.skip(str(error))


@pytest_asyncio.fixture(params=["sqlite", "postgresql"])
async def database_url(request: pytest.FixtureRequest, tmp_path: Path) -> AsyncIterator[str]:
    """The URL of an empty database, on each of both."""
    if request.param == "sqlite":
        yield f"sqlite:///{tmp_path / 'catalogue.db'}"
        return
    server_url: str = request.getfixturevalue("postgresql_server")
    url = await new_database(server_url)
    yield url
    await drop_database(server_url, url)


@pytest_asyncio.fixture
async def store(database_url: str) -> AsyncIterator[Database]:
    """A database whose tables are up to date."""
    await migrate_database(database_url)
    opened = database(database_url)
    yield opened
    await opened.close()


@pytest.fixture
def catalogue(store: Database) -> DatabaseCatalogue:
    """An empty catalogue in each database."""
    return DatabaseCatalogue(store)
