"""A service that is told to stop: it says so, answers what it has taken, and whoever repeats loses nothing."""

import asyncio
import json
import signal
import subprocess
import sys
import threading
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import count, cycle
from pathlib import Path
from typing import NamedTuple

import pytest

from tests.faults.invented import CHECK, GRADE, draft
from tests.faults.talking import HungUpError, Line, line_to, request
from tests.faults.test_lost_connections import drafts_in
from tests.support.commands import SPECIFICATION, forces
from tests.support.databases import new_database
from tests.support.servers import LOG, SECONDS_TO_END, Server, command, environment, free_port, serving
from tests.support.services import released
from tests.support.sizes import of_two

LOT = request("POST", "/v1/verdicts", json.dumps({"against": {"grade": GRADE}, "evidence": forces(1400, 1500)}).encode())
READY = request("GET", "/health/ready")
THREADS, ANSWERS_BEFORE = 4, 200
RESTARTS = of_two(2, 20)
ENDS = of_two(50, 500)


def address_of(server: Server) -> str:
    """Where it answers."""
    return f"http://127.0.0.1:{server.port}"


def test_while_it_leaves_it_says_so_and_answers_on(tmp_path: Path) -> None:
    """A balancer has the time to see it and to send elsewhere; until then each request is answered."""
    with serving(tmp_path, LEAVING_FOR="600") as server:
        address = address_of(server)
        released(address, GRADE, SPECIFICATION)
        with line_to(address) as kept:
            assert "connection" not in kept.ask(CHECK).headers
            server.process.send_signal(signal.SIGTERM)
            with line_to(address) as probe:
                while (heard := probe.ask(READY)).status == 200:
                    pass
            told = kept.ask(CHECK)
        with line_to(address) as new:
            answered = new.ask(CHECK)
        # Somebody stands there and waits: a second signal ends the delay.
        server.process.send_signal(signal.SIGTERM)

        assert (503, ["The service is stopping."]) == (heard.status, heard.document["reasons"])
        assert [(200, "close")] * 2 == [(each.status, each.headers["connection"]) for each in (told, answered)]
        assert 0 == server.process.wait(SECONDS_TO_END)


def test_ctrl_c_ends_it_without_delay(tmp_path: Path) -> None:
    """Somebody at a terminal is no balancer."""
    with serving(tmp_path, LEAVING_FOR="600") as server:
        server.process.send_signal(signal.SIGINT)

        assert 0 == server.process.wait(SECONDS_TO_END)


class Answers:
    """What several threads were answered."""

    def __init__(self) -> None:
        """Nothing yet."""
        self.statuses: Counter[int] = Counter()
        self._changed = threading.Condition()

    def add(self, status: int) -> None:
        """One more."""
        with self._changed:
            self.statuses[status] += 1
            self._changed.notify_all()

    def wait_for(self, more: int) -> None:
        """Until so many more have come."""
        with self._changed:
            wanted = self.statuses.total() + more
            assert self._changed.wait_for(lambda: self.statuses.total() >= wanted, SECONDS_TO_END)


def ask_until_refused(address: str, answers: Answers) -> None:
    """Ask for verdicts, over a new connection where the old one is ended, until none is to be had."""
    try:
        while True:
            with line_to(address) as line:
                ask_until_hung_up(line, answers)
    except OSError:
        return


def ask_until_hung_up(line: Line, answers: Answers) -> None:
    """Ask for verdicts as long as the connection lasts."""
    try:
        while True:
            heard = line.ask(LOT)
            answers.add(heard.status)
            if heard.headers.get("connection") == "close":
                return
    except HungUpError:
        return


def test_each_request_that_was_taken_is_answered(tmp_path: Path) -> None:
    """Told to stop in the middle of work: as many verdicts arrive as were given, by the lines of the log."""
    with serving(tmp_path, LEAVING_FOR="0.2") as server:
        address, answers = address_of(server), Answers()
        released(address, GRADE, SPECIFICATION)
        threads = [threading.Thread(target=ask_until_refused, args=(address, answers)) for _ in range(THREADS)]
        for thread in threads:
            thread.start()
        answers.wait_for(ANSWERS_BEFORE)
        server.process.send_signal(signal.SIGTERM)
        assert 0 == server.process.wait(SECONDS_TO_END)
        for thread in threads:
            thread.join(SECONDS_TO_END)
    lines = [json.loads(line) for line in (tmp_path / LOG).read_text().splitlines()]
    given = [line["status"] for line in lines if line.get("operation") == "judgeLot"]

    assert answers.statuses == Counter(given)
    assert {200} == set(answers.statuses)


class Replica(NamedTuple):
    """One of two, which may be replaced by a new process at the same port."""

    folder: Path
    port: int
    settings: dict[str, str]

    @contextmanager
    def running(self) -> Iterator[subprocess.Popen[str]]:
        """The process while it answers; ended by SIGTERM, as an operator does."""
        with (self.folder / LOG).open("a") as log:
            process = subprocess.Popen(
                command("serve", "--port", str(self.port)),
                env=environment(self.folder, **self.settings),
                stdout=subprocess.PIPE,
                stderr=log,
                text=True,
            )
        try:
            assert process.stdout
            assert process.stdout.readline()
            yield process
        finally:
            process.terminate()
            process.communicate(timeout=SECONDS_TO_END)
        assert 0 == process.returncode


class RetryingClient:
    """Asks one replica after the other until one has an answer, as a client behind a balancer does."""

    def __init__(self, addresses: list[str]) -> None:
        """Ask these."""
        self._addresses = cycle(addresses)
        self.answers = Answers()
        self.drafts = 0
        self.ended = False

    def go_on(self) -> None:
        """Bring in one draft after the other, each another document, and ask for a verdict between."""
        for number in count():
            if self.ended:
                return
            assert self._answer(draft(number)) == 201
            self.drafts += 1
            assert self._answer(LOT) == 200

    def _answer(self, content: bytes) -> int:
        """The status of the first answer that does not tell to come again."""
        for address in self._addresses:
            try:
                with line_to(address) as line:
                    heard = line.ask(content)
            except (HungUpError, OSError):
                continue
            if heard.status != 503:
                self.answers.add(heard.status)
                return heard.status
        raise AssertionError


@pytest.fixture
def replicas(postgresql_server: str, tmp_path: Path) -> tuple[str, list[Replica]]:
    """The URL of the database, and two replicas that are not started."""
    url = new_database(postgresql_server)
    made = []
    for name in ("one", "other"):
        folder = tmp_path / name
        folder.mkdir()
        settings = {"DATABASE_URL": url, "MIGRATE_AT_START": "true", "LEAVING_FOR": "0.2"}
        made.append(Replica(folder, free_port(), settings))
    return url, made


def test_a_restart_of_one_of_two_loses_nothing_that_is_repeated(replicas: tuple[str, list[Replica]]) -> None:
    """The service is brought up to date at noon: the client is answered throughout, and what it was told as kept is there."""
    url, (one, other) = replicas
    with other.running():
        with one.running():
            addresses = [f"http://127.0.0.1:{each.port}" for each in (one, other)]
            released(addresses[0], GRADE, SPECIFICATION)
            client = RetryingClient(addresses)
            thread = threading.Thread(target=client.go_on)
            thread.start()
            client.answers.wait_for(20)
        for _ in range(RESTARTS):
            client.answers.wait_for(20)
            with one.running():
                client.answers.wait_for(20)
        client.ended = True
        thread.join(SECONDS_TO_END)

    assert {200, 201} == set(client.answers.statuses)
    # The same document sent again is kept once, so each that was told as kept counts, and none twice.
    assert client.drafts == asyncio.run(drafts_in(url))


OFTEN = """
import asyncio, random, sys
from service.app import create_app
from service.settings import Settings

async def lived():
    application = create_app(Settings(database_url=sys.argv[1], poll_every=0.001))
    async with application.lifespan():
        await asyncio.sleep(random.random() * 0.02)

for _ in range(int(sys.argv[2])):
    asyncio.run(lived())
"""
"""Begins and ends, at any moment of the looks at the database."""


def test_an_end_in_the_middle_of_a_look_at_the_database_is_an_end(tmp_path: Path) -> None:
    """A look that was broken off would be waited for until somebody kills the process."""
    program = (sys.executable, "-c", OFTEN, f"sqlite:///{tmp_path}/grades.db", str(ENDS))

    assert 0 == subprocess.run(program, timeout=10 * SECONDS_TO_END, check=False).returncode
