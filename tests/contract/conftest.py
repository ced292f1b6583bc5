"""A server on a file of its own for each module of these tests."""

from collections.abc import Iterator

import pytest

from tests.support.services import service_in


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Its address."""
    with service_in(tmp_path_factory.mktemp("service")) as address:
        yield address
