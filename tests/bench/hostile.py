"""The slowest check beside a hostile body, beside the slowest without: a report, not a test.

`python -m tests.bench.hostile` from the top of the repository. A service runs by itself; one station checks readings one after
the other, and somebody else sends the same body again and again meanwhile.
"""

import argparse
import http.client
import json
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Any, NamedTuple

from tests.bench.paths import CHECK, LOT, SPECIFICATION
from tests.support import examples
from tests.support.hostile import CSV, MADE, NDJSON, TEXTS
from tests.support.servers import serving
from tests.support.services import ask, released

JSON, ROWS = "application/json", f"/v1/lots/{examples.LOT}/readings?batch=B1"
MILLISECONDS = 1000


class Hostile(NamedTuple):
    """A body that takes long to refuse, and where it goes."""

    name: str
    path: str
    media_type: str
    make: Callable[[int], bytes]


def hostile() -> Iterator[Hostile]:
    """All that are tried."""
    for path, good in (("/v1/verdicts", LOT), ("/v1/reviews", SPECIFICATION)):
        for name, make in MADE.items():
            yield Hostile(name, path, JSON, partial(_document, make, json.loads(good)))
        for name, write in TEXTS.items():
            yield Hostile(name, path, JSON, partial(write, good))
    for media_type, made in (("text/csv", CSV), ("application/x-ndjson", NDJSON)):
        for name, make_rows in made.items():
            yield Hostile(name, ROWS, media_type, make_rows)


def _document(make: Callable[[Any, int], Any], good: Any, size: int) -> bytes:
    return json.dumps(make(good, size)).encode()


def main() -> None:
    """Start a service, and tell for each body how long checks took beside it."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--bytes", type=int, default=1_000_000, help="of each body")
    options.add_argument("--seconds", type=float, default=2, help="for each body")
    given = options.parse_args()
    with tempfile.TemporaryDirectory() as folder, serving(Path(folder)) as server:
        address = f"http://127.0.0.1:{server.port}"
        released(address, examples.GRADE, examples.SPECIFICATION)
        ask(address, "PUT", f"/v1/lots/{examples.LOT}", examples.OPENING)
        checked(server.port, given.seconds)
        say("nothing", "", *checked(server.port, given.seconds))
        for each in hostile():
            with sending(server.port, each, given.bytes) as sent:
                took = checked(server.port, given.seconds)
            say(each.name, f"{each.path.partition('?')[0]} {each.media_type}", *took, len(sent))


def checked(port: int, seconds: float) -> tuple[float, float]:
    """(the slowest, the median) check in so many seconds, in milliseconds."""
    connection, took = http.client.HTTPConnection("127.0.0.1", port), list[float]()
    until = time.perf_counter() + seconds
    while (begun := time.perf_counter()) < until:
        connection.request("POST", "/v1/checks", CHECK, {"Content-Type": JSON})
        answer = connection.getresponse()
        answer.read()
        took.append((time.perf_counter() - begun) * MILLISECONDS)
    connection.close()
    return max(took), sorted(took)[len(took) // 2]


@contextmanager
def sending(port: int, each: Hostile, size: int) -> Iterator[list[int]]:
    """Sends the body again and again meanwhile; the statuses of the answers."""
    body, statuses, ending = each.make(size), list[int](), threading.Event()

    def send() -> None:
        connection = http.client.HTTPConnection("127.0.0.1", port)
        while not ending.is_set():
            connection.request("POST", each.path, body, {"Content-Type": each.media_type})
            answer = connection.getresponse()
            answer.read()
            statuses.append(answer.status)
        connection.close()

    thread = threading.Thread(target=send)
    thread.start()
    try:
        yield statuses
    finally:
        ending.set()
        thread.join()


def say(name: str, where: str, slowest: float, median: float, bodies: int = 0) -> None:
    """A line of the report."""
    sys.stdout.write(f"{name:28}{where:48}{slowest:9.1f} ms{median:8.2f} ms{bodies:6} bodies\n")
    sys.stdout.flush()


if __name__ == "__main__":
    main()
