"""Real servers for tests: a process of its own, on a free port of the loopback interface, with its own database."""

import os
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

LOG = "log"
"""The file that holds what a server logs, in its folder."""
SECONDS_TO_END = 20
PROGRAM = (sys.executable, "-m", "service.cli")
"""`markeryarn` of this checkout."""


class Server(NamedTuple):
    """A server that answers."""

    process: subprocess.Popen[str]
    port: int
    line: str
    """What it printed when it did."""

    def connect(self) -> socket.socket:
        """A plain connection to it."""
        return socket.create_connection(("127.0.0.1", self.port), timeout=SECONDS_TO_END)


def free_port() -> int:
    """A port that nobody listens on just now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def command(*words: str) -> list[str]:
    """The command line `markeryarn …` of this checkout."""
    return [*PROGRAM, *words]


def environment(folder: Path, **settings: str) -> dict[str, str]:
    """The environment of a server with a database in a folder; settings without their prefix."""
    # Short, as no balancer has to see it; each server of the tests would else take a second to end.
    ours = {"DATABASE_URL": f"sqlite:///{folder}/grades.db", "LEAVING_FOR": "0.01", **settings}
    kept = {name: text for name, text in os.environ.items() if not name.startswith("MARKERYARN_")}
    return {**kept, **{f"MARKERYARN_{name}": text for name, text in ours.items()}}


@contextmanager
def serving(folder: Path, **settings: str) -> Iterator[Server]:
    """A server, ended at the end if it has not been before."""
    port = free_port()
    # Into a file: a pipe that nobody reads is full after some hundred lines, and the server would wait.
    with (folder / LOG).open("w") as log:
        process = subprocess.Popen(
            command("serve", "--port", str(port)),
            env=environment(folder, **settings),
            stdout=subprocess.PIPE,
            stderr=log,
            text=True,
        )
        try:
            assert process.stdout
            yield Server(process, port, process.stdout.readline())
        finally:
            process.terminate()
            process.communicate(timeout=SECONDS_TO_END)
