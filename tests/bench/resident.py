"""How long a service takes to its first answer, and what it holds in memory after many checks: a report, not a test.

`python -m tests.bench.resident` from the top of the repository.
"""

import http.client
import sys
import tempfile
import time
from itertools import pairwise
from pathlib import Path

from tests.bench.paths import CHECK, GRADE, SPECIFICATION
from tests.support.servers import serving
from tests.support.services import released

AFTER = (1_000, 20_000, 100_000)
"""Checks, after which memory is looked at."""
JSON = {"Content-Type": "application/json"}


def main() -> None:
    """Start a service on a new database, then on the same again; check readings, and report."""
    with tempfile.TemporaryDirectory() as folder:
        begun = time.perf_counter()
        with serving(Path(folder)) as server:
            say(f"ready on a new database after {time.perf_counter() - begun:.2f} s, {mebibytes(server.process.pid):.1f} MiB")
            released(f"http://127.0.0.1:{server.port}", GRADE, SPECIFICATION)
        begun = time.perf_counter()
        with serving(Path(folder)) as server:
            say(f"ready on a database with tables after {time.perf_counter() - begun:.2f} s")
            connection = http.client.HTTPConnection("127.0.0.1", server.port)
            for before, after in pairwise((0, *AFTER)):
                for _ in range(after - before):
                    check(connection)
                say(f"after {after} checks {mebibytes(server.process.pid):.1f} MiB")
            connection.close()


def check(connection: http.client.HTTPConnection) -> None:
    """One reading, which passes."""
    connection.request("POST", "/v1/checks", CHECK, JSON)
    answer = connection.getresponse()
    assert b'"outcome":"pass"' in answer.read()


def mebibytes(process: int) -> float:
    """What a process holds in memory."""
    return _told(process, "VmRSS:")


def most_mebibytes(process: int) -> float:
    """The most that it ever held since it is this program; getrusage would count what its parent held before."""
    return _told(process, "VmHWM:")


def _told(process: int, name: str) -> float:
    """A line of a process's status, in MiB."""
    status = Path(f"/proc/{process}/status").read_text(encoding="ascii")
    return next(int(line.split()[1]) for line in status.splitlines() if line.startswith(name)) / 1024


def say(text: str) -> None:
    """A line of the report."""
    sys.stdout.write(f"{text}\n")


if __name__ == "__main__":
    main()
