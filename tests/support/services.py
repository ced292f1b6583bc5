"""A service that tests speak to over a socket as a client would: its address, one request, one grade released."""

import contextlib
import http.client
import json
import signal
import subprocess
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, NamedTuple
from urllib.parse import urlsplit

from tests.support.servers import PROGRAM, SECONDS_TO_END, environment, free_port
from tests.support.within import Within

HOST = "127.0.0.1"
Service = str | Within
"""The address of one, or one within this process."""
NO_HEADERS: Mapping[str, str] = {}


class Answered(NamedTuple):
    """An answer as it came: status, headers with names in small letters, bytes."""

    status: int
    headers: Mapping[str, str]
    body: bytes

    @property
    def document(self) -> Any:
        """Its JSON."""
        return json.loads(self.body)


@contextlib.contextmanager
def service_in(folder: Path, program: Sequence[str] = PROGRAM, **settings: str) -> Iterator[str]:
    """The address of a server of its own; stopped as an operator would, and then it must have ended well.

    program   that takes the words of a command line
    settings  by their names without the prefix; the database is a file in the folder unless one is named

    What it logs is in the folder: thousands of refusals would fill a pipe that nobody reads.
    """
    port = free_port()
    settings_of_it = environment(folder, **settings)
    arguments = [*program, "serve", "--port", str(port)]
    logged = folder / "log"
    with logged.open("wb") as log:
        server = subprocess.Popen(arguments, env=settings_of_it, stdout=subprocess.PIPE, stderr=log, text=True)
    try:
        said = server.stdout.readline() if server.stdout else ""
        assert f"http://{HOST}:{port}" in said, logged.read_text(encoding="utf-8")
        yield f"http://{HOST}:{port}"
    finally:
        server.send_signal(signal.SIGTERM)
        server.communicate(timeout=SECONDS_TO_END)
    assert 0 == server.returncode


@contextlib.contextmanager
def two_services(database_url: str, folder: Path) -> Iterator[tuple[str, str]]:
    """The addresses of two servers on one database; what they log is in folders of their own."""
    folders = [folder / name for name in ("one", "other")]
    for each in folders:
        each.mkdir()
    with (
        service_in(folders[0], DATABASE_URL=database_url) as one,
        service_in(folders[1], DATABASE_URL=database_url) as other,
    ):
        yield one, other


def ask(service: Service, method: str, path: str, body: object = None, headers: Mapping[str, str] = NO_HEADERS) -> Answered:
    """The answer to one request; a body is sent as JSON, and bytes as they stand.

    service  an address, which is asked on a connection of its own; or one within this process
    """
    content = body if body is None or isinstance(body, bytes) else json.dumps(body)
    sent = dict(headers) if body is None else {"Content-Type": "application/json", **headers}
    if isinstance(service, Within):
        said = service.ask(method, path, content, sent)
        return Answered(said.status_code, dict(said.headers), said.content)
    return _asked_at(service, method, path, content, sent)


def _asked_at(address: str, method: str, path: str, content: str | bytes | None, sent: Mapping[str, str]) -> Answered:
    connection = http.client.HTTPConnection(urlsplit(address).netloc, timeout=SECONDS_TO_END)
    with contextlib.closing(connection):
        connection.request(method, path, content, dict(sent))
        answer = connection.getresponse()
        return Answered(answer.status, {name.lower(): text for name, text in answer.getheaders()}, answer.read())


def released(service: Service, grade: str, specification: object) -> int:
    """The number of a revision that is brought in and released as from now."""
    draft = ask(service, "POST", f"/v1/grades/{grade}/revisions", specification).document
    number: int = draft["revision"]
    assert 200 == ask(service, "POST", f"/v1/grades/{grade}/revisions/{number}/release", {}).status
    return number
