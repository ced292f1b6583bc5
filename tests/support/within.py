"""A service within the process of the test, spoken to by Litestar's client without a socket."""

import contextlib
from collections.abc import Iterator, Mapping

import httpx
from litestar.testing import TestClient

from service.api.application import Application
from service.app import create_app
from service.settings import Settings

ADDRESS = "http://127.0.0.1:8000"


class Within:
    """It lives in a thread of the client's."""

    def __init__(self, client: TestClient[Application]) -> None:
        """Ask by this client."""
        self._client = client

    def ask(self, method: str, path: str, content: str | bytes | None, headers: Mapping[str, str]) -> httpx.Response:
        """The answer to one request."""
        return self._client.request(method, path, content=content, headers=dict(headers))


@contextlib.contextmanager
def service_within(database_url: str) -> Iterator[Within]:
    """One on this database, whose tables are made."""
    with TestClient(create_app(Settings(database_url=database_url)), base_url=ADDRESS) as client:
        yield Within(client)
