"""Replaying verdicts over HTTP: what a buyer's claim is answered with first."""

import sqlite3
from contextlib import closing
from pathlib import Path

import httpx
import pytest

from service.engine import ENGINE
from tests.support import examples

LOT = "/v1/lots/0412-07"
REPLAY = f"{LOT}/verdicts/1/replay"


@pytest.fixture
async def lot(released: httpx.AsyncClient) -> httpx.AsyncClient:
    """A service with the example's lot, which has passed."""
    await released.put(LOT, json={"grade": examples.GRADE, "size": 480})
    sent = {"batch": "B", "series": examples.EVIDENCE["series"]}
    assert 201 == (await released.post(f"{LOT}/readings", json=sent)).status_code
    assert "pass" == (await released.post(f"{LOT}/close", json={})).json()["verdict"]["outcome"]
    return released


def alter(folder: Path, column: str, old: str, new: str) -> None:
    """What somebody can do who owns the file: put another text in a column of each verdict."""
    with closing(sqlite3.connect(folder / "grades.db")) as connection, connection:
        triggers = connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for (name,) in triggers:
            connection.execute(f"DROP TRIGGER {name}")
        connection.execute(f"UPDATE verdicts SET {column} = replace({column}, ?, ?)", (old, new))  # noqa: S608  our own


async def test_a_verdict_that_was_not_altered_agrees(lot: httpx.AsyncClient) -> None:
    """With the verdict of now beside it, and nothing recorded by asking."""
    before = (await lot.get(LOT)).content
    kept, told = (await lot.get(f"{LOT}/verdicts/1")).json(), (await lot.post(REPLAY)).json()

    assert ("0412-07", 1, True, []) == tuple(told[name] for name in ("lot", "number", "agrees", "differences"))
    assert {"then": ENGINE, "now": ENGINE} == told["engine"]
    assert kept["verdict"] == told["verdict"]
    assert before == (await lot.get(LOT)).content


async def test_where_a_verdict_was_altered_is_shown(lot: httpx.AsyncClient, tmp_path: Path) -> None:
    """Both figures stand beside each other."""
    alter(tmp_path, "verdict", '"lower":1400', '"lower":1300')
    told = (await lot.post(REPLAY)).json()

    assert not told["agrees"]
    assert [{"at": "/findings/1/limits/lower", "then": 1300, "now": 1400}] == told["differences"]
    assert {"flaws", "more_differences"}.isdisjoint(told)


async def test_evidence_that_can_not_be_judged_any_more_is_told(lot: httpx.AsyncClient, tmp_path: Path) -> None:
    """Why, and no verdict beside it."""
    alter(tmp_path, "evidence", '"lot"', '"lott"')
    told = (await lot.post(REPLAY)).json()

    assert not told["agrees"]
    assert ["kept-not-readable"] == [flaw["code"] for flaw in told["flaws"]]
    assert "verdict" not in told


async def test_no_more_differences_are_shown_than_can_be_read(lot: httpx.AsyncClient, tmp_path: Path) -> None:
    """The rest is counted."""
    many = ",".join(f'"m{number}":1' for number in range(130))
    alter(tmp_path, "verdict", '"format":1', f'"format":1,{many}')
    told = (await lot.post(REPLAY)).json()

    assert (100, 30) == (len(told["differences"]), told["more_differences"])


@pytest.mark.parametrize("path", ["/v1/lots/nowhere/verdicts/1/replay", f"{LOT}/verdicts/2/replay"])
async def test_what_is_not_there_is_said(lot: httpx.AsyncClient, path: str) -> None:
    """A lot, or a verdict of it."""
    assert 404 == (await lot.post(path)).status_code
