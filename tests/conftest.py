"""What tests of several layers share: a catalogue in each database."""

from collections.abc import AsyncIterator, Iterator
from pathlib import Path

import pytest
import pytest_asyncio

from service.storage import Database, DatabaseCatalogue, database
from service.storage.migrating import migrate_database
from tests.support.postgresql import new_database, postgresql


@pytest.fixture(scope="session")
def postgresql_server() -> Iterator[str]:
    """The URL of a PostgreSQL server, one for all tests."""
    with postgresql() as url:
        yield url


@pytest.fixture(params=["sqlite", "postgresql"])
def database_url(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """The URL of an empty database, on each of both."""
    if request.param == "sqlite":
        return f"sqlite:///{tmp_path / 'catalogue.db'}"
    return new_database(request.getfixturevalue("postgresql_server"))


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
