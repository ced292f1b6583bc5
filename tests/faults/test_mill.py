"""The ledger under what a mill does to it: servers killed at any moment, a database that goes away, two servers at once."""

import asyncio
import random
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from service.storage.database import open_database
from service.storage.verifying import verify
from tests.faults.mill import GRADE, SPECIFICATION, Mill, check_kept
from tests.faults.test_lost_connections import cut, restart
from tests.support.databases import new_database
from tests.support.postgresql import Private, private_postgresql
from tests.support.servers import serving
from tests.support.services import ask, released, service_in, two_services
from tests.support.sizes import of_two

KILLS = of_two(3, 30)
BREAKS = of_two(3, 30)
STEPS_BETWEEN = 40
SECONDS_TO_LIVE = 0.4
LOTS, BATCHES = of_two(4, 40), 12


@pytest.fixture(scope="module")
def private() -> Iterator[Private]:
    """A PostgreSQL that may be stopped."""
    with private_postgresql() as server:
        yield server


def check_journal(url: str) -> None:
    """It tells of all that the tables hold, and the other way round."""

    async def verified() -> object:
        async with open_database(url) as database:
            return (await verify(database)).mismatch

    assert asyncio.run(verified()) is None


def test_a_server_may_be_killed_at_any_moment(database_url: str, tmp_path: Path) -> None:
    """Every acknowledged reading, strike, verdict, correction and disposition is there afterwards, and none of them twice."""
    chance = random.Random(2026)
    mill = Mill("http://127.0.0.1:9")
    with mill.at_work():
        for _ in range(KILLS):
            with serving(tmp_path, DATABASE_URL=database_url) as server:
                address = f"http://127.0.0.1:{server.port}"
                if ask(address, "GET", f"/v1/grades/{GRADE}/in-force").status != 200:
                    released(address, GRADE, SPECIFICATION)
                mill.addresses[0] = address
                mill.wait_for_more(1)
                time.sleep(chance.uniform(0, SECONDS_TO_LIVE))
                server.process.kill()
        with service_in(tmp_path, DATABASE_URL=database_url) as address:
            mill.addresses[0] = address
            mill.wait_for_more(STEPS_BETWEEN)
            mill.end()
            assert [] == mill.wrong
            assert mill.cut_short
            check_kept(address, mill.acknowledged)
    check_journal(database_url)
    print(f"{KILLS} kills cut {mill.cut_short} requests short; {len(mill.acknowledged)} steps acknowledged and found")  # noqa: T201  what the long form reports


@pytest.mark.parametrize("way", ["cut", "restarted"])
def test_a_database_may_go_away_and_come_back(private: Private, tmp_path: Path, way: str) -> None:
    """Who is told 503 comes again, and nothing is lost or counted twice; no other refusal, and nobody is hung up on."""
    url = new_database(private.url)
    break_it: Callable[[], None] = (lambda: asyncio.run(cut(url))) if way == "cut" else (lambda: restart(private))
    with service_in(tmp_path, DATABASE_URL=url, MIGRATE_AT_START="true") as address:
        released(address, GRADE, SPECIFICATION)
        mill = Mill(address, may_hang_up=False)
        with mill.at_work():
            for _ in range(BREAKS):
                mill.wait_for_more(STEPS_BETWEEN)
                break_it()
            mill.wait_for_more(STEPS_BETWEEN)
        assert [] == mill.wrong
        check_kept(address, mill.acknowledged)
    check_journal(url)


def test_two_servers_are_as_one(database_url: str, tmp_path: Path) -> None:
    """Two clients do the same things to the same lots through two servers: each is done once, and both are told so alike."""
    with two_services(database_url, tmp_path) as (one, other):
        released(one, GRADE, SPECIFICATION)
        mills = [Mill(one, other, may_hang_up=False), Mill(other, one, may_hang_up=False)]
        with mills[0].at_work(), mills[1].at_work():
            for mill in mills:
                mill.wait_for_more(of_two(STEPS_BETWEEN, 600))
        assert [[], []] == [mill.wrong for mill in mills]
        for mill, address in zip(mills, (other, one), strict=True):
            check_kept(address, mill.acknowledged)
    done = [(each.lot, each.step.name) for mill in mills for each in mill.acknowledged if each.answer.status == 201]
    assert sorted(set(done)) == sorted(done)
    check_journal(database_url)


def test_what_is_acknowledged_while_the_lot_is_closed_elsewhere_is_in_its_verdict(database_url: str, tmp_path: Path) -> None:
    """A reading that a station threw away after 201 must not be missing from what the lot was judged by."""
    with two_services(database_url, tmp_path) as (one, other), ThreadPoolExecutor(3) as pool:
        released(one, GRADE, SPECIFICATION)
        for number in range(LOTS):
            lot, begin = f"/v1/lots/R-{number}", threading.Barrier(3)
            assert 201 == ask(one, "PUT", lot, {"grade": GRADE}).status
            taken = [pool.submit(_measure, address, lot, name, begin) for address, name in ((one, "A"), (other, "B"))]
            begin.wait()
            closed = [pool.submit(ask, address, "POST", f"{lot}/close", {}) for address in (other, one)]
            statuses = [each.result().status for each in closed]
            acknowledged = sum(each.result() for each in taken)
            verdicts = ask(one, "GET", lot).document["verdicts"]
            evidence = ask(one, "GET", f"{lot}/verdicts/{verdicts}/evidence").document
            judged = sum(len(each["values"]) for each in evidence.get("series", ()))

            assert [200, 201] == sorted(statuses)
            assert acknowledged == judged
    check_journal(database_url)


def _measure(address: str, lot: str, name: str, begin: threading.Barrier) -> int:
    """How many readings were acknowledged until the lot took no more."""
    begin.wait()
    for number in range(BATCHES):
        series = {"characteristic": "breaking_force", "unit": "N", "values": [1450]}
        answer = ask(address, "POST", f"{lot}/readings", {"batch": f"{name}-{number}", "series": [series]})
        if answer.status == 409:
            return number
        assert 201 == answer.status, answer.body
    return BATCHES
