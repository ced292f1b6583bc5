"""Readings a second beside what the drivers store at best, in interleaved rounds: `python -m tests.bench.ledger`.

The floors are rows of a reading each: on SQLite a durable commit for each row, on PostgreSQL single rows of 16 connections and
COPY of 100,000. Ours are batches of one reading of 16 callers, in the process of whoever measures as the floors are, and over
HTTP; and lots of 100,000 readings in one batch.

What a commit costs is mostly the disk's flush, in which machines differ a thousandfold. `--flush-ms` makes each flush take so
much longer, for the floors as for ours, by a library that is compiled (`cc`) and loaded before the C library. With `--hold` it
fails where a share in process, or that of a long lot, is below what is asked for.
"""

import argparse
import asyncio
import contextlib
import json
import os
import shutil
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import AsyncIterator, Awaitable, Callable, Sequence
from itertools import count
from pathlib import Path
from typing import Any, NamedTuple
from urllib.parse import urlsplit

import asyncpg  # type: ignore[import-untyped]  # it comes without types
import msgspec

from service.engine.ledger import Batch, Opening
from service.storage import DatabaseCatalogue, DatabaseLedger
from service.storage.connecting import opened
from service.storage.migrating import migrate
from service.usecases.ledger.opening import open_lot
from service.usecases.ledger.readings import record_batch
from service.usecases.shelf import Shelf
from tests.support import examples
from tests.support.databases import new_database
from tests.support.postgresql import durable_postgresql
from tests.support.services import ask, released, service_in

CALLERS, LONG = 16, 100_000
COLUMNS = "lot TEXT NOT NULL, characteristic TEXT NOT NULL, package TEXT NOT NULL, unit TEXT NOT NULL, value FLOAT NOT NULL"
NAMES = ("lot", "characteristic", "package", "unit", "value")
ROW = ("0412-07", "breaking_force", "b1", "N", 1432.5)
MOST_BODY = "64000000"
SLOWER = "SLOW_FLUSH_US"
ASKED = {"ours on SQLite, in process": 8.0, "ours on PostgreSQL, in process": 0.33, "ours on PostgreSQL, long lots": 0.6}
"""The least share of its floor, by way."""
Way = Callable[[float], Awaitable[float]]
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


class Inside:
    """The ledger in this process: what a route does between decoding a body and encoding the answer."""

    def __init__(self, ledger: DatabaseLedger, shelf: Shelf) -> None:
        """On a database in which the grade is released."""
        self.ledger, self.shelf, self.numbers = ledger, shelf, count()

    async def single(self, seconds: float) -> float:
        """Callers wait for each reading of theirs to be durable and judged; each has a lot of its own."""
        lots = [f"I{next(self.numbers)}" for _ in range(CALLERS)]
        for lot in lots:
            await open_lot(self.ledger, self.shelf, lot, Opening(grade=examples.GRADE), "local")
        batches = msgspec.json.Decoder(Batch)
        began = time.perf_counter()

        async def call(lot: str) -> int:
            stored = 0
            while time.perf_counter() - began < seconds:
                batch = batches.decode(_batch(f"B{stored}", [1432.5], ["b1"]))
                await record_batch(self.ledger, self.shelf, lot, batch, "local")
                stored += 1
            return stored

        stored = sum(await asyncio.gather(*map(call, lots)))
        return stored / (time.perf_counter() - began)


@contextlib.asynccontextmanager
async def inside(url: str) -> AsyncIterator[Inside]:
    """On this database."""
    async with opened(url) as kept:
        ledger, shelf = DatabaseLedger(kept), Shelf(DatabaseCatalogue(kept))
        await shelf.refresh()
        yield Inside(ledger, shelf)
        await ledger.close()


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
        """Callers wait for each reading of theirs to be durable; each has a lot of its own."""
        paths = [self.open() for _ in range(CALLERS)]
        callers = [await self.caller() for _ in range(CALLERS)]
        began = time.perf_counter()

        async def call(caller: Caller, path: str) -> int:
            stored = 0
            while time.perf_counter() - began < seconds:
                await caller.send(path, _batch(f"B{stored}", [1432.5], ["b1"]))
                stored += 1
            return stored

        stored = sum(await asyncio.gather(*map(call, callers, paths)))
        took = time.perf_counter() - began
        for each in callers:
            each.writer.close()
        return stored / took

    async def long(self, seconds: float) -> float:
        """A lot of 100,000 readings after the other."""
        body = _batch("B", [1432.5 + number % 97 for number in range(LONG)], [f"b{number}" for number in range(LONG)])
        caller, began, stored, spent = await self.caller(), time.perf_counter(), 0, 0.0
        while time.perf_counter() - began < seconds:
            path = self.open()
            sent = time.perf_counter()
            await caller.send(path, body)
            spent, stored = spent + time.perf_counter() - sent, stored + LONG
        caller.writer.close()
        return stored / spent

    async def caller(self) -> Caller:
        """A connection."""
        to = urlsplit(self.address)
        return Caller(*await asyncio.open_connection(to.hostname, to.port, limit=2**20))


def _batch(key: str, values: Sequence[float], packages: Sequence[str]) -> bytes:
    series: dict[str, Any] = {"characteristic": "breaking_force", "unit": "N", "values": values, "packages": packages}
    return json.dumps({"batch": key, "series": [series]}).encode()


def sqlite_floor(file: Path) -> Way:
    """A durable commit for each row."""
    connection = sqlite3.connect(file, isolation_level=None)
    for statement in ("PRAGMA journal_mode=WAL", "PRAGMA synchronous=FULL", f"CREATE TABLE reading ({COLUMNS})"):
        connection.execute(statement)

    async def single(seconds: float) -> float:
        began, stored = time.perf_counter(), 0
        while time.perf_counter() - began < seconds:
            connection.execute("INSERT INTO reading VALUES (?, ?, ?, ?, ?)", ROW)
            stored += 1
        return stored / (time.perf_counter() - began)

    return single


def postgresql_floors(url: str) -> tuple[Way, Way]:
    """Single rows of 16 connections, and COPY."""
    insert = "INSERT INTO reading VALUES ($1, $2, $3, $4, $5)"

    async def single(seconds: float) -> float:
        connections = [await asyncpg.connect(url) for _ in range(CALLERS)]
        await connections[0].execute(f"CREATE TABLE IF NOT EXISTS reading ({COLUMNS})")
        began = time.perf_counter()

        async def call(connection: Any) -> int:
            stored = 0
            while time.perf_counter() - began < seconds:
                await connection.execute(insert, *ROW)
                stored += 1
            return stored

        stored = sum(await asyncio.gather(*map(call, connections)))
        took = time.perf_counter() - began
        for each in connections:
            await each.close()
        return stored / took

    async def copy(seconds: float) -> float:
        connection = await asyncpg.connect(url)
        began, stored = time.perf_counter(), 0
        while time.perf_counter() - began < seconds:
            await connection.copy_records_to_table("reading", records=[ROW] * LONG, columns=NAMES)
            stored += LONG
        took = time.perf_counter() - began
        await connection.close()
        return stored / took

    return single, copy


async def measured(ways: dict[str, Way], rounds: int, seconds: float) -> dict[str, float]:
    """The median of each way, rounds interleaved."""
    found: dict[str, list[float]] = {name: [] for name in ways}
    for _ in range(rounds):
        for name, way in ways.items():
            found[name].append(await way(seconds))
    return {name: statistics.median(each) for name, each in found.items()}


async def measure(options: argparse.Namespace, folder: Path, url: str, floor_url: str) -> dict[str, float]:
    """Readings a second of each way."""
    for name in ("lite", "full"):
        (folder / name).mkdir()
    async with contextlib.AsyncExitStack() as stack:
        lite = Ours(stack.enter_context(service_in(folder / "lite", MAX_BODY=MOST_BODY)))
        full = Ours(stack.enter_context(service_in(folder / "full", DATABASE_URL=url, MAX_BODY=MOST_BODY)))
        file = next((folder / "lite").glob("*.db"))
        inside_lite = await stack.enter_async_context(inside(f"sqlite:///{file}"))
        inside_full = await stack.enter_async_context(inside(url))
        single, copy = postgresql_floors(floor_url)
        ways = {
            "SQLite, single durable commits": sqlite_floor(folder / "floor.db"),
            "ours on SQLite, in process": inside_lite.single,
            "ours on SQLite, over HTTP": lite.single,
            "asyncpg, single rows": single,
            "ours on PostgreSQL, in process": inside_full.single,
            "ours on PostgreSQL, over HTTP": full.single,
            "asyncpg, COPY": copy,
            "ours on PostgreSQL, long lots": full.long,
        }
        return await measured(ways, options.rounds, options.seconds)


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
    """Print readings a second, and the shares of the floors."""
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
            found = asyncio.run(measure(options, Path(name), url, floor_url))
    floor, below = 0.0, []
    for way, rate in found.items():
        floor = floor if way.startswith("ours") else rate
        share = rate / floor
        sys.stdout.write(f"{way:40}{rate:12.0f}{f'  {share:.2f}' if way.startswith('ours') else ''}\n")
        if share < ASKED.get(way, 0):
            below.append(f"{way}: {share:.2f} of its floor, where {ASKED[way]:g} is asked for.")
    if options.hold and below:
        sys.exit("\n".join(below))


if __name__ == "__main__":
    main()
