"""The whole application on an embedded database of its own, and a client that speaks to it without a socket."""

from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any, cast

import httpx
import pytest

from service.api.application import Application
from service.app import create_app
from service.settings import Settings
from tests.support import examples


@pytest.fixture
async def application(tmp_path: Path) -> AsyncIterator[Application]:
    """The application while it lives."""
    made = create_app(Settings(database_url=f"sqlite:///{tmp_path}/grades.db", body_timeout=0.2, max_body=100_000))
    async with made.lifespan():
        yield made


@pytest.fixture
async def client(application: Application) -> AsyncIterator[httpx.AsyncClient]:
    """Speaks to it."""
    transport = httpx.ASGITransport(app=cast("Any", application))
    async with httpx.AsyncClient(transport=transport, base_url="http://127.0.0.1:8000") as made:
        yield made


@pytest.fixture
async def released(client: httpx.AsyncClient) -> httpx.AsyncClient:
    """The same, with revision 1 of the example's grade released."""
    revisions = f"/v1/grades/{examples.GRADE}/revisions"
    assert 201 == (await client.post(revisions, json=examples.SPECIFICATION)).status_code
    assert 200 == (await client.post(f"{revisions}/1/release", json={})).status_code
    return client
