"""What breaks is tried on each of both databases."""

from collections.abc import Iterator

import pytest

from tests.support.databases import BOTH, Databases


@pytest.fixture(params=BOTH)
def database_url(request: pytest.FixtureRequest, databases: Databases) -> Iterator[str]:
    """The URL of a database whose tables are up to date, and empty."""
    with databases.migrated(request.param) as url:
        yield url
