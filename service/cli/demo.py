"""`markeryarn demo`: the real service on a temporary file, three invented grades, some readings, three lots, a story."""

import contextlib
import http.client
import json
import os
import re
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

from service.cli.printing import CAUTION, print_check, print_step, print_verdict
from service.engine.documents import CheckAnswer, Verdict
from service.settings import PREFIX

HOST = "127.0.0.1"
DEMONSTRATION = files("service.cli") / "demonstration"
ENDS_WITHIN_S = 10
STORY_OF, AS_BEFORE = "/v1/lots/0415-03", "as before"
"""The lot of the story; and what stands in place of a body that is sent once more."""
_POINTER = re.compile(r"\{(/[^}]*)\}")


@click.command("demo", short_help="Start the service and judge invented lots.", epilog="Example: markeryarn demo")
def command() -> None:
    """Start the service on a temporary file, judge three invented lots over HTTP, and follow another from its opening on."""
    with tempfile.TemporaryDirectory(prefix="markeryarn-") as folder, running(Path(folder)) as port:
        click.echo("Three grades with invented figures are sent to it and released:")
        for grade in documents("grades"):
            click.echo(f"  {publish(port, grade)}")
        click.echo("\nA station checks readings (POST /v1/checks):")
        for check in json.loads((DEMONSTRATION / "checks.json").read_text(encoding="utf-8")):
            print_check(check, msgspec.convert(ask(port, "POST", "/v1/checks", check), CheckAnswer))
        click.echo("\nLots are judged (POST /v1/verdicts):\n")
        for lot in documents("lots"):
            print_verdict(
                msgspec.convert(ask(port, "POST", "/v1/verdicts", json.loads(lot.read_text(encoding="utf-8"))), Verdict)
            )
            click.echo()
        click.echo(f"One lot is followed from its opening to a claim ({STORY_OF}):\n")
        tell(port)
        click.echo()
    click.echo(f"The service has stopped and its database is deleted. {CAUTION}")


def tell(port: int) -> None:
    """What becomes of one lot, step by step."""
    steps = json.loads((DEMONSTRATION / "story.json").read_text(encoding="utf-8"))
    for number, step in enumerate(steps):
        body = steps[number - 1]["body"] if step["body"] == AS_BEFORE else step["body"]
        status, document = answer_to(port, step["method"], STORY_OF + step["path"], body)
        print_step(number + 1, step["says"], f"{step['method']} …{step['path']}", status, shown(step["shows"], document))


def shown(text: str, document: object) -> str:
    """The text, with what stands in the document where it has a pointer in braces."""
    return _POINTER.sub(lambda match: str(found(document, match[1])), text)


def found(document: Any, pointer: str) -> Any:  # what JSON holds
    """What a JSON Pointer points to; ends the program where there is nothing: the demo and the service have come apart."""
    for step in pointer.split("/")[1:]:
        try:
            document = document[int(step) if isinstance(document, list) else step]
        except (LookupError, TypeError) as error:
            raise click.ClickException(f"The service answered without {pointer}: {json.dumps(document)[:300]}") from error
    return document


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
                raise click.ClickException("The service did not start. Correct what it says above and try again.")
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


def ask(port: int, method: str, path: str, body: object) -> Any:  # what JSON holds
    """The document that answers; ends the program with the problem's text where the request is refused."""
    status, document = answer_to(port, method, path, body)
    if status >= http.client.BAD_REQUEST:
        raise click.ClickException(f"{method} {path} was answered {status}: {document.get('detail')}")
    return document


def answer_to(port: int, method: str, path: str, body: object) -> tuple[int, Any]:
    """Status and document of the answer to one request on a connection of its own."""
    connection = http.client.HTTPConnection(HOST, port, timeout=ENDS_WITHIN_S)
    try:
        connection.request(method, path, json.dumps(body), {"Content-Type": "application/json"})
        answer = connection.getresponse()
        return answer.status, json.loads(answer.read())
    finally:
        connection.close()
