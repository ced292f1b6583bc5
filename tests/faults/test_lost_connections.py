"""PostgreSQL restarted, and its connections cut, while many ask: an answer or the word to come again, and then all is well."""

import asyncio
import json
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from itertools import count, repeat, takewhile
from pathlib import Path

import asyncpg  # type: ignore[import-untyped]  # it comes without types
import pytest

from tests.faults.invented import CHECK, GRADE, draft
from tests.faults.talking import Heard, line_to, request, told_to_come_again
from tests.support.commands import SPECIFICATION, forces
from tests.support.databases import new_database
from tests.support.postgresql import Private, private_postgresql
from tests.support.servers import SECONDS_TO_END
from tests.support.services import released, service_in
from tests.support.sizes import of_two

ROUNDS = of_two(5, 60)
ANSWERS_A_ROUND = 60
CUT = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = $1 AND pid <> pg_backend_pid()"
LIST = request("GET", "/v1/grades")
ENVELOPE = request("GET", f"/v1/grades/{GRADE}/revisions/1")
LOT = request("POST", "/v1/verdicts", json.dumps({"against": {"grade": GRADE}, "evidence": forces(1400, 1500)}).encode())
READ = (LIST, ENVELOPE, LOT, CHECK)


class Load:
    """Threads that ask for one thing each, over and over, and keep what was answered otherwise than well."""

    def __init__(self, address: str) -> None:
        """Load a service."""
        self._address = address
        self._ended = False
        self._changed = threading.Condition()
        self.refusals: list[Heard] = []
        self.answers = 0
        self.drafts = 0

    @contextmanager
    def going_on(self) -> Iterator[None]:
        """Ask while the body runs."""
        threads = [
            threading.Thread(target=self._ask, args=(contents,)) for contents in (*map(repeat, READ), map(draft, count(1)))
        ]
        for thread in threads:
            thread.start()
        try:
            yield
        finally:
            self._ended = True
            for thread in threads:
                thread.join(SECONDS_TO_END)

    def wait_for_more(self) -> None:
        """Until some more answers have come."""
        with self._changed:
            wanted = self.answers + ANSWERS_A_ROUND
            assert self._changed.wait_for(lambda: self.answers >= wanted, SECONDS_TO_END)

    def _ask(self, contents: Iterator[bytes]) -> None:
        with line_to(self._address) as line:
            for content in takewhile(lambda _: not self._ended, contents):
                heard = line.ask(content)
                with self._changed:
                    self.answers += 1
                    self.drafts += heard.status == 201
                    if heard.status not in (200, 201):
                        self.refusals.append(heard)
                    self._changed.notify_all()


@pytest.fixture(scope="module")
def private() -> Iterator[Private]:
    """A PostgreSQL that may be stopped."""
    with private_postgresql() as server:
        yield server


async def cut(url: str) -> None:
    """End all other connections to a database, as an administrator or a fire wall would."""
    connection = await asyncpg.connect(url)
    try:
        await connection.fetch(CUT, url.rpartition("/")[2].partition("?")[0])
    finally:
        await connection.close()


async def drafts_in(url: str) -> int:
    """How many revisions the database holds besides the released one."""
    connection = await asyncpg.connect(url)
    try:
        return int(await connection.fetchval("SELECT count(*) - 1 FROM revisions"))
    finally:
        await connection.close()


def restart(private: Private) -> None:
    """Down as after a loss of power, and up again."""
    with private.stopped():
        pass


@pytest.mark.parametrize("way", ["cut", "restarted"])
def test_under_load_callers_are_answered_or_told_to_come_again(private: Private, tmp_path: Path, way: str) -> None:
    """A database is patched at noon: clients that repeat what gets 503 notice nothing, and no draft told as kept is lost."""
    url = new_database(private.url)
    break_it: Callable[[], None] = (lambda: asyncio.run(cut(url))) if way == "cut" else (lambda: restart(private))
    with service_in(tmp_path, DATABASE_URL=url, MIGRATE_AT_START="true") as address:
        released(address, GRADE, SPECIFICATION)
        load = Load(address)
        with load.going_on():
            for _ in range(ROUNDS):
                load.wait_for_more()
                break_it()
            load.wait_for_more()
        assert [] == [heard for heard in load.refusals if not told_to_come_again(heard)]
        with line_to(address) as line:
            assert [200, 200, 200, 200, 201] == [line.ask(content).status for content in (*READ, draft(0))]
            assert 200 == line.ask(request("GET", "/health/ready")).status
    # What was cut in the moment of its commit may be kept though nobody could be told.
    assert load.drafts + 1 <= asyncio.run(drafts_in(url)) <= load.drafts + 1 + len(load.refusals)
