"""The ports are kept on each of both databases."""

from collections.abc import Iterator

import pytest

from tests.support.databases import BOTH, Databases, new_database
from tests.support.postgresql import Private, private_postgresql


@pytest.fixture(params=BOTH)
def database_url(request: pytest.FixtureRequest, databases: Databases) -> Iterator[str]:
    """The URL of a database whose tables are up to date, and empty."""
    with databases.migrated(request.param) as url:
        yield url


@pytest.fixture(params=BOTH)
def empty_url(request: pytest.FixtureRequest, databases: Databases) -> Iterator[str]:
    """The URL of a database without tables."""
    with databases.empty(request.param) as url:
        yield url


@pytest.fixture(scope="module")
def private() -> Iterator[Private]:
    """A PostgreSQL of the module's own, which may be stopped and altered."""
    with private_postgresql() as server:
        yield server


@pytest.fixture
def own_url(private: Private) -> str:
    """The URL of an empty database on it."""
    return new_database(private.url)
