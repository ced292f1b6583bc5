"""Bodies that the contract shows, and a service within this process that is given any others."""

import asyncio
import json
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any, NamedTuple

from service.api.application import Application
from service.app import create_app
from service.settings import Settings
from tests.support import examples

VECTORS = Path(__file__).parents[2] / "openapi" / "vectors"
PATHS = ("/v1/checks", "/v1/verdicts", "/v1/draws", "/v1/gradings", "/v1/reviews", "/v1/sampling-plans")
"""Those that take a body and keep nothing."""


class Sent(NamedTuple):
    """A body and where it goes."""

    path: str
    body: bytes


def shown() -> Sequence[Sent]:
    """All requests of the vectors that go to one of these paths."""
    requests = [
        vector["request"]
        for name in ("checks", "flaws", "standards", "verdicts")
        for vector in json.loads((VECTORS / f"{name}.json").read_text(encoding="utf-8"))["vectors"]
    ]
    return [Sent(each["path"], json.dumps(each["body"]).encode()) for each in requests if each["path"] in PATHS]


class Within:
    """A service that is spoken to without a socket, so that millions of bodies can be tried."""

    def __init__(self, application: Application, runner: asyncio.Runner) -> None:
        """Speak to an application that lives."""
        self._application, self._runner = application, runner

    def status_of(self, path: str, body: bytes) -> int:
        """The status by which a body is answered."""
        said: list[Any] = []

        async def receive() -> Any:
            return {"type": "http.request", "body": body, "more_body": False}

        async def send(message: Any) -> None:
            said.append(message)

        headers = [(b"host", b"127.0.0.1"), (b"content-type", b"application/json"), (b"content-length", b"%d" % len(body))]
        scope: dict[str, Any] = {
            "type": "http",
            "method": "POST",
            "path": path,
            "raw_path": path.encode(),
            "query_string": b"",
            "headers": headers,
        }
        self._runner.run(self._application(scope, receive, send))
        return int(said[0]["status"])


@contextmanager
def within(folder: Path) -> Iterator[Within]:
    """A service with the example's grade released, its database in this folder."""
    application = create_app(Settings(database_url=f"sqlite:///{folder}/grades.db"))
    with asyncio.Runner() as runner:
        life = application.lifespan()
        runner.run(life.__aenter__())
        try:
            made = Within(application, runner)
            revisions = f"/v1/grades/{examples.GRADE}/revisions"
            assert 201 == made.status_of(revisions, json.dumps(examples.SPECIFICATION).encode())
            assert 200 == made.status_of(f"{revisions}/1/release", b"{}")
            yield made
        finally:
            runner.run(life.__aexit__(None, None, None))
