"""Which of our modules a request goes through, in order: `python -m tests.bench.ways`.

For a check, a verdict on a lot by a grade in force, and a batch of readings of an open lot, each asked some times before, so
that what is found out once is left aside. A module is told where it is entered for the first time.
"""

import asyncio
import json
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from itertools import count
from pathlib import Path
from types import FrameType
from typing import Any

from service.app import create_app
from service.settings import Settings
from service.storage.database import migrate_database
from tests.support import examples

OURS = f"{Path(__file__).parents[2] / 'service'}/"
LOT = f"/v1/lots/{examples.LOT}"


@contextmanager
def entered(found: list[str]) -> Iterator[None]:
    """The modules of ours that are entered meanwhile are added, each once."""

    def look(frame: FrameType, event: str, _: object) -> None:
        name = frame.f_code.co_filename
        if event == "call" and name.startswith(OURS):
            module = name.removeprefix(OURS).removesuffix(".py").replace("/", ".")
            if module not in found:
                found.append(module)

    sys.setprofile(look)
    try:
        yield
    finally:
        sys.setprofile(None)


async def answered(application: Any, method: str, path: str, body: object) -> int:
    """The status of the answer to a request by ASGI."""
    said: list[Any] = []
    content = json.dumps(body).encode()

    async def receive() -> Any:
        return {"type": "http.request", "body": content, "more_body": False}

    async def send(message: Any) -> None:
        said.append(message)

    headers = [(b"host", b"127.0.0.1"), (b"content-type", b"application/json"), (b"content-length", b"%d" % len(content))]
    scope = {"type": "http", "http_version": "1.1", "method": method, "path": path, "raw_path": path.encode()}
    await application({**scope, "query_string": b"", "headers": headers}, receive, send)
    return int(said[0]["status"])


async def ways(folder: str) -> None:
    """Print them all."""
    url = f"sqlite:///{folder}/grades.db"
    await migrate_database(url)
    application, numbers = create_app(Settings(database_url=url)), count()
    async with application.lifespan():
        revisions = f"/v1/grades/{examples.GRADE}/revisions"
        assert 201 == await answered(application, "POST", revisions, examples.SPECIFICATION)
        assert 200 == await answered(application, "POST", f"{revisions}/1/release", {})
        assert 201 == await answered(application, "PUT", LOT, examples.OPENING)
        asked: list[tuple[str, str, Callable[[], object]]] = [
            ("a check", "/v1/checks", lambda: examples.CHECK),
            ("a verdict", "/v1/verdicts", lambda: examples.BY_GRADE),
            ("a batch of readings", f"{LOT}/readings", lambda: {**examples.READINGS, "batch": f"B-{next(numbers)}"}),
        ]
        for name, path, body in asked:
            for _ in range(4):
                found: list[str] = []
                with entered(found):
                    assert await answered(application, "POST", path, body()) < 300
            print(f"{name}, {len(found)} modules: {' '.join(found)}")  # noqa: T201  what it is for


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as made:
        asyncio.run(ways(made))
