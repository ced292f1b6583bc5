"""Bodies that the contract shows, and a service within this process that is given any others."""

import asyncio
import json
from collections.abc import Coroutine, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any, NamedTuple, TypeVar

from service.api.application import Application
from service.app import create_app
from service.settings import Settings
from tests.support import examples

T = TypeVar("T")
JSON = "application/json"
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

    def run(self, work: Coroutine[Any, Any, T]) -> T:
        """What some work comes to in the loop that the service lives in."""
        return self._runner.run(work)

    def status_of(self, path: str, body: bytes, method: str = "POST", media_type: str = JSON) -> int:
        """The status by which a body is answered."""
        return self.run(self.answered(path, body, method, media_type))[0]

    async def answered(self, path: str, body: bytes, method: str = "POST", media_type: str = JSON) -> tuple[int, bytes]:
        """The status and the body by which a body is answered; the path may have a query."""
        said, is_answered = list[Any](), asyncio.Event()

        parts = iter([{"type": "http.request", "body": body, "more_body": False}])

        async def receive() -> Any:
            if part := next(parts, None):
                return part
            # After its body a caller waits for the answer.
            await is_answered.wait()
            return {"type": "http.disconnect"}

        async def send(message: Any) -> None:
            said.append(message)
            if not message.get("more_body", message["type"] == "http.response.start"):
                is_answered.set()

        head = {"host": "127.0.0.1", "content-type": media_type, "content-length": str(len(body))}
        path, _, query = path.partition("?")
        scope: dict[str, Any] = {
            "type": "http",
            "method": method,
            "path": path,
            "raw_path": path.encode(),
            "query_string": query.encode(),
            "headers": [(name.encode(), text.encode()) for name, text in head.items()],
        }
        await self._application(scope, receive, send)
        return int(said[0]["status"]), b"".join(each["body"] for each in said[1:])


@contextmanager
def within(folder: Path, *, poll_every: float = 0.5) -> Iterator[Within]:
    """A service with the example's grade released, its database in this folder."""
    application = create_app(Settings(database_url=f"sqlite:///{folder}/grades.db", poll_every=poll_every))
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
