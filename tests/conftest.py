"""What tests of several layers share: databases, a catalogue in each, and which tests a run leaves out."""

from collections import Counter
from collections.abc import AsyncIterator, Iterator

import pytest
import pytest_asyncio

from service.storage import database
from service.storage.catalogue import DatabaseCatalogue
from service.storage.database import Database
from tests.support.databases import RULES_ON, Databases
from tests.support.postgresql import postgresql
from tests.support.sizes import LONG, LONG_FORM


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Leave out what is for the long form, each with its reason."""
    for item in items:
        marker = item.get_closest_marker("long")
        if marker and not LONG:
            item.add_marker(pytest.mark.skip(reason=f"{marker.args[0]} ({LONG_FORM} runs it)"))


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """How many tests were left out for which reason, a line each: some stand in hundreds of places."""
    skipped: list[pytest.TestReport] = terminalreporter.stats.get("skipped", [])
    reasons = Counter(each.longrepr[2] for each in skipped if isinstance(each.longrepr, tuple))
    if reasons:
        terminalreporter.section("left out")
    for reason, number in sorted(reasons.items()):
        terminalreporter.line(f"{number}: {reason.removeprefix('Skipped: ')}")


@pytest.fixture(scope="session")
def postgresql_server() -> Iterator[str]:
    """The URL of a PostgreSQL server, one for all tests."""
    with postgresql() as url:
        yield url


@pytest.fixture(scope="session")
def databases(tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest) -> Databases:
    """Where tests get a database of their own."""
    return Databases(tmp_path_factory.mktemp("databases"), lambda: request.getfixturevalue("postgresql_server"))


@pytest.fixture(params=RULES_ON)
def database_url(request: pytest.FixtureRequest, databases: Databases) -> Iterator[str]:
    """The URL of a database whose tables are up to date, and empty."""
    with databases.migrated(request.param) as url:
        yield url


@pytest_asyncio.fixture
async def store(database_url: str) -> AsyncIterator[Database]:
    """The same database, opened."""
    opened = database(database_url)
    yield opened
    await opened.close()


@pytest.fixture
def catalogue(store: Database) -> DatabaseCatalogue:
    """An empty catalogue in it."""
    return DatabaseCatalogue(store)
