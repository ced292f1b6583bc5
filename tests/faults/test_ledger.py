"""What becomes of readings when a server is killed while they come, and when two servers take the same ones."""

import http.client
import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path

import pytest

from tests.support import examples
from tests.support.servers import serving
from tests.support.services import ask, released, service_in, two_services

LOT = "/v1/lots/0412-07"
STATIONS, BATCHES = 4, 30


def one(key: str) -> dict[str, object]:
    """A batch of one reading."""
    series = {"characteristic": "breaking_force", "unit": "N", "values": [1432.5], "packages": ["b1"]}
    return {"batch": key, "series": [series]}


def keys_in(address: str) -> Iterator[str]:
    """The ids of all batches of the lot, page after page."""
    after = 0
    while True:
        page = ask(address, "GET", f"{LOT}/changes?after={after}&limit=100").document
        yield from (each["id"] for each in page["changes"] if each["kind"] == "batch")
        if "next" not in page:
            return
        after = page["next"]


@pytest.mark.parametrize("killed_after", [1, 20])
def test_a_killed_server_loses_nothing_that_it_acknowledged(database_url: str, tmp_path: Path, killed_after: int) -> None:
    """A station that was told 201 has thrown its reading away."""
    acknowledged: list[str] = []
    enough = threading.Event()

    def station(address: str, number: int) -> None:
        with suppress(OSError, http.client.HTTPException):
            for place in range(10_000):
                key = f"S{number}-{place}"
                assert 201 == ask(address, "POST", f"{LOT}/readings", one(key)).status
                acknowledged.append(key)
                if len(acknowledged) >= killed_after:
                    enough.set()

    with serving(tmp_path, DATABASE_URL=database_url) as server, ThreadPoolExecutor(STATIONS) as stations:
        address = f"http://127.0.0.1:{server.port}"
        released(address, examples.GRADE, examples.SPECIFICATION)
        assert 201 == ask(address, "PUT", LOT, {"grade": examples.GRADE}).status
        for number in range(STATIONS):
            stations.submit(station, address, number)
        assert enough.wait(30)
        server.process.kill()
    with service_in(tmp_path, DATABASE_URL=database_url) as address:
        kept = list(keys_in(address))
        again = [ask(address, "POST", f"{LOT}/readings", one(key)).status for key in acknowledged]
        [readings] = ask(address, "GET", LOT).document["readings"]

    assert set(acknowledged) <= set(kept)
    assert sorted(set(kept)) == sorted(kept)
    assert {200} == set(again)
    assert len(kept) == readings["readings"]


def test_two_servers_on_one_database_count_once(database_url: str, tmp_path: Path) -> None:
    """Stations resend to whichever of both answers."""
    with two_services(database_url, tmp_path) as (one_address, other), ThreadPoolExecutor(2 * STATIONS) as stations:
        released(one_address, examples.GRADE, examples.SPECIFICATION)
        assert 201 == ask(one_address, "PUT", LOT, {"grade": examples.GRADE}).status
        sent = [(address, f"B{number}") for number in range(BATCHES) for address in (one_address, other)]
        statuses = list(stations.map(lambda each: ask(each[0], "POST", f"{LOT}/readings", one(each[1])).status, sent))
        shown = [ask(address, "GET", LOT).document for address in (one_address, other)]
        evidence = [ask(address, "GET", f"{LOT}/evidence").document for address in (one_address, other)]

    assert [200] * BATCHES + [201] * BATCHES == sorted(statuses)
    assert [BATCHES] * 2 == [each["readings"][0]["readings"] for each in shown]
    assert evidence[0] == evidence[1]
