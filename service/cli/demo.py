"""`markeryarn demo`: the real service on a temporary file, three invented grades, some readings, three lots."""

import contextlib
import http.client
import json
import os
import signal
import socket
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any

import click
import msgspec

from service.cli.printing import CAUTION, print_check, print_verdict
from service.engine.verdict import CheckAnswer, Verdict
from service.settings import PREFIX

HOST = "127.0.0.1"
DEMONSTRATION = files("service.cli") / "demonstration"
ENDS_WITHIN_S = 10


@click.command("demo", short_help="Start the service and judge three invented lots.", epilog="Example: markeryarn demo")
def command() -> None:
    """Start the service on a temporary file and judge three invented lots over HTTP."""
    with tempfile.TemporaryDirectory(prefix="markeryarn-") as folder, running(Path(folder)) as port:
        click.echo("Three grades, with invented figures, are brought to it and released:")
        for grade in documents("grades"):
            click.echo(f"  {publish(port, grade)}")
        click.echo("\nA station checks readings (POST /v1/checks):")
        for check in json.loads((DEMONSTRATION / "checks.json").read_text(encoding="utf-8")):
            print_check(check, msgspec.convert(ask(port, "POST", "/v1/checks", check), CheckAnswer))
        click.echo("\nLots are closed (POST /v1/verdicts):\n")
        for lot in documents("lots"):
            print_verdict(
                msgspec.convert(ask(port, "POST", "/v1/verdicts", json.loads(lot.read_text(encoding="utf-8"))), Verdict)
            )
            click.echo()
    click.echo(f"The service has stopped and its file is gone. {CAUTION}")


def documents(folder: str) -> Iterator[Traversable]:
    """The JSON files of a folder of the demonstration, by name."""
    found = (file for file in (DEMONSTRATION / folder).iterdir() if file.name.endswith(".json"))
    yield from sorted(found, key=lambda file: file.name)


@contextlib.contextmanager
def running(folder: Path) -> Iterator[int]:
    """The real server as a process of its own on loopback, stopped as an operator would; gives its port."""
    port = free_port()
    # Settings of another service that stand in the environment would make it another demonstration.
    others = {name: text for name, text in os.environ.items() if not name.startswith(PREFIX)}
    environment = others | {f"{PREFIX}DATABASE_URL": f"sqlite:///{folder / 'demo.db'}"}
    arguments = [sys.executable, "-m", "service.cli", "serve", "--host", HOST, "--port", str(port)]
    log = folder / "demo.log"
    with (
        log.open("w", encoding="utf-8") as logged,
        subprocess.Popen(arguments, env=environment, stdout=subprocess.PIPE, stderr=logged, text=True) as server,  # noqa: S603  our own command
    ):
        try:
            line = server.stdout.readline() if server.stdout else ""
            if not line:
                click.echo(log.read_text(encoding="utf-8"), err=True)
                raise click.ClickException("The service did not start. What it said stands above; mend that and try again.")
            click.echo(line)
            yield port
        finally:
            # No balancer has to see it go, so not SIGTERM, after which it answers on for a while.
            server.send_signal(signal.SIGINT)
            server.wait(ENDS_WITHIN_S)


def free_port() -> int:
    """A port of loopback that nobody listens on now."""
    with socket.socket() as probe:
        probe.bind((HOST, 0))
        port: int = probe.getsockname()[1]
        return port


def publish(port: int, file: Traversable) -> str:
    """Bring a grade in, release it as from now; gives its code and title."""
    grade = file.name.removesuffix(".json")
    specification = json.loads(file.read_text(encoding="utf-8"))
    draft = ask(port, "POST", f"/v1/grades/{grade}/revisions", specification)
    ask(port, "POST", f"/v1/grades/{grade}/revisions/{draft['revision']}/release", {})
    return f"{grade}  {specification['title']}"


def ask(port: int, method: str, path: str, body: object) -> Any:  # noqa: ANN401  what JSON holds
    """One request on a connection of its own; ends the program with the problem's text where it is refused."""
    connection = http.client.HTTPConnection(HOST, port, timeout=ENDS_WITHIN_S)
    try:
        connection.request(method, path, json.dumps(body), {"Content-Type": "application/json"})
        answer = connection.getresponse()
        document = json.loads(answer.read())
    finally:
        connection.close()
    if answer.status >= http.client.BAD_REQUEST:
        raise click.ClickException(f"{method} {path} was answered {answer.status}: {document.get('detail')}")
    return document
