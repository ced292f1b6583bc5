"""The whole application on an embedded database of its own, and Litestar's client that speaks to it without a socket."""

from collections.abc import AsyncIterator
from pathlib import Path

import httpx
import pytest
from litestar.testing import AsyncTestClient

from service.api.application import Application
from service.app import create_app
from service.settings import Settings
from tests.support import examples
from tests.support.within import ADDRESS


@pytest.fixture
def made(tmp_path: Path) -> Application:
    """The application, whose life has not begun."""
    return create_app(Settings(database_url=f"sqlite:///{tmp_path}/grades.db", body_timeout=0.2, max_body=100_000))


@pytest.fixture
async def application(made: Application) -> AsyncIterator[Application]:
    """The application while it lives, for tests that speak ASGI themselves."""
    async with made.lifespan():
        yield made


@pytest.fixture
async def client(made: Application) -> AsyncIterator[httpx.AsyncClient]:
    """Speaks to it."""
    async with AsyncTestClient(made, base_url=ADDRESS) as speaking:
        yield speaking


@pytest.fixture
async def released(client: httpx.AsyncClient) -> httpx.AsyncClient:
    """The same, with revision 1 of the example's grade released."""
    revisions = f"/v1/grades/{examples.GRADE}/revisions"
    assert 201 == (await client.post(revisions, json=examples.SPECIFICATION)).status_code
    assert 200 == (await client.post(f"{revisions}/1/release", json={})).status_code
    return client
