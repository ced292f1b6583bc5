"""A service within the process of the test, spoken to without a socket."""

import asyncio
import contextlib
from collections.abc import Iterator, Mapping
from typing import Any, cast

import httpx

from service.app import create_app
from service.settings import Settings

ADDRESS = "http://127.0.0.1:8000"


class Within:
    """It goes on only while it is asked: between two requests its loop stands still."""

    def __init__(self, client: httpx.AsyncClient, runner: asyncio.Runner) -> None:
        """Ask by this client."""
        self._client, self._runner = client, runner

    def ask(self, method: str, path: str, content: str | bytes | None, headers: Mapping[str, str]) -> httpx.Response:
        """The answer to one request."""
        return self._runner.run(self._client.request(method, path, content=content, headers=headers))


@contextlib.contextmanager
def service_within(database_url: str) -> Iterator[Within]:
    """One on this database, whose tables are made."""
    application = create_app(Settings(database_url=database_url))
    transport = httpx.ASGITransport(app=cast("Any", application))
    with asyncio.Runner() as runner:
        life = application.lifespan()
        runner.run(life.__aenter__())
        client = httpx.AsyncClient(transport=transport, base_url=ADDRESS)
        try:
            yield Within(client, runner)
        finally:
            runner.run(client.aclose())
            runner.run(life.__aexit__(None, None, None))
