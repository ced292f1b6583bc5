"""A server of its own for each module of these tests, on SQLite, or on each database in turn."""

from collections.abc import Iterator

import pytest

from tests.support import examples
from tests.support.commands import run
from tests.support.databases import RULES_ON, new_database
from tests.support.services import released, service_in


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of one on SQLite."""
    with service_in(tmp_path_factory.mktemp("service")) as address:
        yield address


@pytest.fixture(scope="module", params=RULES_ON)
def service_on_each(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of one on each database in turn, with the grade of the document's examples released."""
    folder = tmp_path_factory.mktemp("service")
    if request.param == "sqlite":
        with service_in(folder) as address:
            yield with_examples(address)
    else:
        database = new_database(request.getfixturevalue("postgresql_server"))
        assert 0 == run(folder, "migrate", DATABASE_URL=database).returncode
        with service_in(folder, DATABASE_URL=database) as address:
            yield with_examples(address)


def with_examples(address: str) -> str:
    """The same address, when the grade that the document's examples name is released there."""
    assert 1 == released(address, examples.GRADE, examples.SPECIFICATION)
    return address
