"""Readings a second beside floors, in interleaved rounds: `python -m tests.bench.ledger`.

16 callers send single readings over HTTP, each of which is durable when it is answered: to ours, and to a handler that stores
a row and a journal entry by SQLAlchemy's ORM (`orm_floor.py`), on the same database and served alike. Lots of 100,000 readings
in one batch have COPY of as many rows as their floor.

What a commit costs is mostly the disk's flush, in which machines differ a thousandfold. `--flush-ms` makes each flush take so
much longer, for the floors as for ours, by a library that is compiled (`cc`) and loaded before the C library. With `--hold` it
fails where a share is below what is asked for.
"""

import argparse
import asyncio
import contextlib
import json
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Coroutine, Iterator, Mapping, Sequence
from itertools import count
from pathlib import Path
from typing import Any, NamedTuple
from urllib.parse import urlsplit

import asyncpg  # type: ignore[import-untyped]  # it comes without types
import msgspec

from service.storage.database import migrate
from tests.bench import orm_floor
from tests.support import examples
from tests.support.databases import new_database
from tests.support.postgresql import durable_postgresql
from tests.support.servers import SECONDS_TO_END, free_port
from tests.support.services import HOST, ask, released, service_in

CALLERS, LONG = 16, 100_000
COLUMNS = "lot TEXT NOT NULL, characteristic TEXT NOT NULL, package TEXT NOT NULL, unit TEXT NOT NULL, value FLOAT NOT NULL"
NAMES = ("lot", "characteristic", "package", "unit", "value")
ROW = ("0412-07", "breaking_force", "b1", "N", 1432.5)
MOST_BODY = "64000000"
SLOWER = "SLOW_FLUSH_US"
ASKED = {"ours on SQLite": 1.0, "ours on PostgreSQL": 1.0, "ours on PostgreSQL, long lots": 0.6}
"""The least share of its floor, by way."""
Way = Callable[[float], Coroutine[Any, Any, float]]
"""Seconds to spend → readings a second."""


class Caller(NamedTuple):
    """A connection that is kept."""

    reader: asyncio.StreamReader
    writer: asyncio.StreamWriter

    async def send(self, path: str, body: bytes) -> None:
        """Post, and wait for the answer, which must be 201."""
        head = (
            f"POST {path} HTTP/1.1\r\nhost: localhost\r\ncontent-type: application/json\r\ncontent-length: {len(body)}\r\n\r\n"
        )
        self.writer.write(head.encode() + body)
        answer = await self.reader.readuntil(b"\r\n\r\n")
        length = next(line for line in answer.lower().split(b"\r\n") if line.startswith(b"content-length:"))
        said = await self.reader.readexactly(int(length.split(b":")[1]))
        assert b" 201 " in answer.split(b"\r\n")[0], said


async def single(callers: Sequence[Caller], paths: Sequence[str], body: Callable[[str], bytes], seconds: float) -> float:
    """Readings a second: callers wait for each of theirs to be durable; each has a lot of its own.

    body  gives what is sent under a batch's id
    """
    began = time.perf_counter()

    async def call(caller: Caller, path: str) -> int:
        stored = 0
        while time.perf_counter() - began < seconds:
            await caller.send(path, body(f"B{stored}"))
            stored += 1
        return stored

    stored = sum(await asyncio.gather(*map(call, callers, paths)))
    took = time.perf_counter() - began
    for each in callers:
        each.writer.close()
    return stored / took


class Ours:
    """A server of ours, spoken to over HTTP."""

    def __init__(self, address: str) -> None:
        """Release the grade there."""
        self.address, self.numbers = address, count()
        released(address, examples.GRADE, examples.SPECIFICATION)

    def open(self) -> str:
        """Where readings of a new lot go."""
        lot = f"/v1/lots/L{next(self.numbers)}"
        assert 201 == ask(self.address, "PUT", lot, {"grade": examples.GRADE}).status
        return f"{lot}/readings"

    async def single(self, seconds: float) -> float:
        """Batches of one reading."""
        paths = [self.open() for _ in range(CALLERS)]
        return await single(await callers(self.address), paths, lambda key: _batch(key, [1432.5], ["b1"]), seconds)

    async def long(self, seconds: float) -> float:
        """A lot of 100,000 readings after the other."""
        body = _batch("B", [1432.5 + number % 97 for number in range(LONG)], [f"b{number}" for number in range(LONG)])
        began, stored, spent = time.perf_counter(), 0, 0.0
        caller = await connected(self.address)
        while time.perf_counter() - began < seconds:
            path = self.open()
            sent = time.perf_counter()
            await caller.send(path, body)
            spent, stored = spent + time.perf_counter() - sent, stored + LONG
        caller.writer.close()
        return stored / spent


class Floor:
    """The floor's handler, spoken to over HTTP."""

    def __init__(self, address: str) -> None:
        """It answers there."""
        self.address, self.numbers = address, count()

    async def single(self, seconds: float) -> float:
        """Single readings."""
        paths = [f"/lots/F{next(self.numbers)}/readings" for _ in range(CALLERS)]
        return await single(await callers(self.address), paths, _reading, seconds)


@contextlib.contextmanager
def floor_on(url: str) -> Iterator[Floor]:
    """The floor on a database, served as ours is: by granian, one worker, on uvloop."""
    port = free_port()
    words = [sys.executable, "-m", "granian", "--interface", "asgi", "--factory", "--host", HOST, "--port", str(port)]
    words += ["--workers", "1", "--loop", "uvloop", "--http", "1", "--no-ws", "--no-log", "tests.bench.orm_floor:create_app"]
    process = subprocess.Popen(words, env=os.environ | {orm_floor.URL: url})
    try:
        asyncio.run(_answers(port))
        yield Floor(f"http://{HOST}:{port}")
    finally:
        process.terminate()
        process.wait(SECONDS_TO_END)


async def _answers(port: int) -> None:
    """Wait until somebody answers there."""
    async with asyncio.timeout(SECONDS_TO_END):
        while True:
            try:
                _, writer = await asyncio.open_connection(HOST, port)
            except OSError:
                await asyncio.sleep(0.05)
            else:
                writer.close()
                return


async def connected(address: str) -> Caller:
    """A connection."""
    to = urlsplit(address)
    return Caller(*await asyncio.open_connection(to.hostname, to.port, limit=2**20))


async def callers(address: str) -> Sequence[Caller]:
    """One connection a caller."""
    return [await connected(address) for _ in range(CALLERS)]


def _batch(key: str, values: Sequence[float], packages: Sequence[str]) -> bytes:
    series: dict[str, Any] = {"characteristic": "breaking_force", "unit": "N", "values": values, "packages": packages}
    return json.dumps({"batch": key, "series": [series]}).encode()


def _reading(key: str) -> bytes:
    reading = orm_floor.Reading(batch=key, characteristic="breaking_force", package="b1", unit="N", value=1432.5)
    return json.dumps(msgspec.to_builtins(reading)).encode()


def copy_floor(url: str) -> Way:
    """COPY of rows of a reading each."""

    async def copy(seconds: float) -> float:
        connection = await asyncpg.connect(url)
        await connection.execute(f"CREATE TABLE IF NOT EXISTS reading ({COLUMNS})")
        began, stored = time.perf_counter(), 0
        while time.perf_counter() - began < seconds:
            await connection.copy_records_to_table("reading", records=[ROW] * LONG, columns=NAMES)
            stored += LONG
        took = time.perf_counter() - began
        await connection.close()
        return stored / took

    return copy


def measured(ways: Mapping[str, Way], rounds: int, seconds: float) -> Mapping[str, Sequence[float]]:
    """Readings a second of each way in each round, rounds interleaved."""
    found: dict[str, list[float]] = {name: [] for name in ways}
    for _ in range(rounds):
        for name, way in ways.items():
            found[name].append(asyncio.run(way(seconds)))
    return found


def measure(options: argparse.Namespace, folder: Path, url: str, floor_url: str) -> Mapping[str, Sequence[float]]:
    """Readings a second of each way, in each round."""
    for name in ("lite", "full"):
        (folder / name).mkdir()
    with (
        service_in(folder / "lite", MAX_BODY=MOST_BODY) as lite,
        service_in(folder / "full", DATABASE_URL=url, MAX_BODY=MOST_BODY) as full,
        floor_on(f"sqlite+aiosqlite:///{folder}/floor.db") as lite_floor,
        floor_on(floor_url.replace("postgresql:", "postgresql+asyncpg:")) as full_floor,
    ):
        ours = Ours(full)
        ways = {
            "ORM on SQLite": lite_floor.single,
            "ours on SQLite": Ours(lite).single,
            "ORM on PostgreSQL": full_floor.single,
            "ours on PostgreSQL": ours.single,
            "asyncpg, COPY": copy_floor(floor_url),
            "ours on PostgreSQL, long lots": ours.long,
        }
        return measured(ways, options.rounds, options.seconds)


def told(found: Mapping[str, Sequence[float]]) -> Iterator[str]:
    """What was measured is printed; what is below that which is asked for is given."""
    floor: Sequence[float] = ()
    for way, rates in found.items():
        line = f"{way:32}{statistics.median(rates):10.0f}"
        if way in ASKED:
            shares = sorted(rate / beside for rate, beside in zip(rates, floor, strict=True))
            share = statistics.median(shares)
            line += f"  {share:.2f} of its floor, {shares[0]:.2f} to {shares[-1]:.2f} by rounds"
            if share < ASKED[way]:
                yield f"{way}: {share:.2f} of its floor, where {ASKED[way]:g} is asked for."
        else:
            floor = rates
        sys.stdout.write(f"{line}\n")


def again_with_slow_flushes(milliseconds: float, folder: Path) -> int:
    """Run this program once more with each flush taking so much longer; its exit code."""
    library = folder / "slow_flush.so"
    source = Path(__file__).with_name("slow_flush.c")
    compiler = shutil.which("cc") or sys.exit("There is no C compiler `cc`, which --flush-ms needs.")
    subprocess.run([compiler, "-O1", "-shared", "-fPIC", "-o", library, source, "-ldl"], check=True)
    # PostgreSQL's server runs as somebody else.
    folder.chmod(0o755)
    slow = {"LD_PRELOAD": str(library), SLOWER: str(int(milliseconds * 1000))}
    arguments = [sys.executable, "-m", "tests.bench.ledger", *sys.argv[1:]]
    return subprocess.run(arguments, env=os.environ | slow, check=False).returncode


def main() -> None:
    """Print readings a second, and the shares of their floors: medians over rounds."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--seconds", type=float, default=3)
    parser.add_argument("--flush-ms", type=float, default=0)
    parser.add_argument("--hold", action="store_true", help="fail where a share is below what is asked for")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        if options.flush_ms and SLOWER not in os.environ:
            sys.exit(again_with_slow_flushes(options.flush_ms, Path(name)))
        with durable_postgresql() as server:
            url, floor_url = new_database(server.url), new_database(server.url)
            migrate(url)
            found = measure(options, Path(name), url, floor_url)
    below = list(told(found))
    if options.hold and below:
        sys.exit("\n".join(below))


if __name__ == "__main__":
    main()
