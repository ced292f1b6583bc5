"""Concessions and dispositions over HTTP: what is sent, what comes, and how each refusal is told apart."""

from pathlib import Path
from typing import Any

import httpx
import pytest
from litestar.testing import AsyncTestClient

from service.app import create_app
from service.ports.catalogue import Scope
from service.settings import Settings
from service.storage import database
from service.storage.database import migrate_database
from service.storage.keys import DatabaseKeys
from service.usecases.keys.issuing import add_key
from tests.support import examples
from tests.support.problems import problem_of
from tests.support.within import ADDRESS

LOT = "/v1/lots/0412-07"


@pytest.fixture
async def waiting(released: httpx.AsyncClient) -> httpx.AsyncClient:
    """A service with the example's lot closed, undecided as nothing was measured."""
    assert 201 == (await released.put(LOT, json={"grade": examples.GRADE, "size": 480})).status_code
    assert "undecided" == (await released.post(f"{LOT}/close", json={})).json()["verdict"]["outcome"]
    return released


async def granted(client: httpx.AsyncClient, name: str = "C-114", **members: Any) -> httpx.Response:
    """The answer to the example's concession."""
    return await client.put(f"{LOT}/concessions/{name}", json={**examples.CONCESSION, **members})


async def disposed(client: httpx.AsyncClient, key: str, disposition: str, **members: Any) -> httpx.Response:
    """The answer to a disposition."""
    body = {"id": key, "disposition": disposition, "reason": "As agreed.", **members}
    return await client.post(f"{LOT}/dispositions", json=body)


async def test_a_concession_is_granted_once_and_shown(waiting: httpx.AsyncClient) -> None:
    """201 with where it is, then 200 with the same; with other content 409 and where both differ."""
    first, again = await granted(waiting), await granted(waiting)
    shown = await waiting.get(first.headers["location"])
    differs = problem_of(await granted(waiting, reason="Another one."), 409)

    assert (201, 200, 200) == (first.status_code, again.status_code, shown.status_code)
    assert first.content == again.content == shown.content
    assert {**examples.CONCESSION, "lot": "0412-07", "concession": "C-114", "by": "local", "verdict": 1} == {
        name: value for name, value in first.json().items() if name != "granted_at"
    }
    assert ("/problems/content-differs", ["/reason"]) == (differs["type"], [flaw["at"] for flaw in differs["flaws"]])


async def test_a_lot_shows_what_is_done_with_it(waiting: httpx.AsyncClient) -> None:
    """And that a verdict came since, which nobody has decided by."""
    assert "is_of_earlier_verdict" not in (await waiting.get(LOT)).json()
    await granted(waiting)
    released = await disposed(waiting, "D-1", "release", concession="C-114")
    shown = (await waiting.get(LOT)).json()
    force = {"characteristic": "breaking_force", "unit": "N", "packages": ["b1"], "values": [900]}
    await waiting.post(f"{LOT}/readings", json={"batch": "B", "series": [force]})
    later = (await waiting.get(LOT)).json()
    again = await disposed(waiting, "D-1", "release", concession="C-114")

    assert (201, "release", "C-114", 1, False) == (
        released.status_code,
        *(released.json()[name] for name in ("disposition", "concession", "verdict", "is_of_earlier_verdict")),
    )
    assert ("release", False) == (shown["disposition"], shown["is_of_earlier_verdict"])
    assert ("release", True, 2) == (later["disposition"], later["is_of_earlier_verdict"], later["verdicts"])
    assert (200, {**released.json(), "is_of_earlier_verdict": True}) == (again.status_code, again.json())


async def test_both_are_listed_by_pages(waiting: httpx.AsyncClient) -> None:
    """In their order, the last one left without `next`."""
    for number in range(3):
        await granted(waiting, f"C-{number}")
        await disposed(waiting, f"D-{number}", "hold")
    for name, ids in (("concessions", "concession"), ("dispositions", "id")):
        page = (await waiting.get(f"{LOT}/{name}?limit=2")).json()
        rest = (await waiting.get(f"{LOT}/{name}?limit=2&after={page['next']}")).json()
        whole = (await waiting.get(f"{LOT}/{name}?limit=3")).json()

        assert [f"{name[0].upper()}-{number}" for number in range(3)] == [each[ids] for each in [*page[name], *rest[name]]]
        assert 2 == len(page[name])
        assert "next" not in rest
        assert "next" not in whole
        assert [] == (await waiting.get(f"{LOT}/{name}?after=99")).json()[name]


async def test_lots_are_listed_by_what_is_done_with_them(waiting: httpx.AsyncClient) -> None:
    """The yard asks which lots are on hold."""
    await disposed(waiting, "D-1", "hold")
    held = (await waiting.get("/v1/lots?disposition=hold")).json()["lots"]

    assert [("0412-07", "hold")] == [(each["lot"], each["disposition"]) for each in held]
    assert [] == (await waiting.get("/v1/lots?disposition=scrap")).json()["lots"]
    assert "/disposition" == problem_of(await waiting.get("/v1/lots?disposition=sold"), 422)["flaws"][0]["at"]


async def test_what_takes_a_concession_is_told_with_the_way(waiting: httpx.AsyncClient) -> None:
    """Of a regrade with the requirements that are not met."""
    lighter = {**examples.SPECIFICATION, "title": "A lighter one"}
    await waiting.post("/v1/grades/TB-110/revisions", json=lighter)
    await waiting.post("/v1/grades/TB-110/revisions/1/release", json={})
    release = problem_of(await disposed(waiting, "D-1", "release"), 409)
    regrade = problem_of(await disposed(waiting, "D-1", "regrade", grade="TB-110"), 409)

    assert "/problems/concession-needed" == release["type"] == regrade["type"]
    assert f"`PUT {LOT}/concessions/{{concession}}`" in release["detail"]
    assert "flaws" not in release
    assert {"requirement-undecided"} == {flaw["code"] for flaw in regrade["flaws"]}
    assert all(flaw["rule"].startswith("/") for flaw in regrade["flaws"])


@pytest.mark.parametrize(
    ("method", "path", "status"),
    [
        ("PUT", "/v1/lots/nowhere/concessions/C-1", 404),
        ("GET", "/v1/lots/nowhere/concessions/C-1", 404),
        ("GET", f"{LOT}/concessions/C-1", 404),
        ("GET", "/v1/lots/nowhere/concessions", 404),
        ("POST", "/v1/lots/nowhere/dispositions", 404),
        ("GET", "/v1/lots/nowhere/dispositions", 404),
        ("POST", f"{LOT}/dispositions", 422),
        ("GET", f"{LOT}/dispositions?after=-1", 422),
    ],
)
async def test_what_is_not_there_is_told_first(waiting: httpx.AsyncClient, method: str, path: str, status: int) -> None:
    """Before what is wrong with the body."""
    problem_of(await waiting.request(method, path, json={} if method in {"PUT", "POST"} else None), status)


@pytest.mark.parametrize("one_may", [False, True], ids=["two persons", "one person may"])
async def test_another_person_disposes_by_a_concession(tmp_path: Path, one_may: bool) -> None:  # noqa: FBT001  a case
    """Both names are kept; the setting lets one do it, and the disposition says so."""
    url = f"sqlite:///{tmp_path}/keys.db"
    await migrate_database(url)
    kept = database(url)
    tokens = {name: (await add_key(DatabaseKeys(kept), name, frozenset(Scope), None)).token for name in ("anna", "otto")}
    application = create_app(Settings(database_url=url, one_person_may_release=one_may))
    async with AsyncTestClient(application, base_url=ADDRESS) as client:
        anna, otto = ({"authorization": f"Bearer {token}"} for token in tokens.values())
        revisions = f"/v1/grades/{examples.GRADE}/revisions"
        await client.post(revisions, json=examples.SPECIFICATION, headers=anna)
        await client.post(f"{revisions}/1/release", json={}, headers=otto)
        await client.put(LOT, json={"grade": examples.GRADE}, headers=anna)
        await client.put(f"{LOT}/concessions/C-114", json=examples.CONCESSION, headers=anna)
        alone = await client.post(f"{LOT}/dispositions", json=examples.RELEASE, headers=anna)
        if one_may:
            assert (201, True, "anna") == (alone.status_code, alone.json()["one_person"], alone.json()["by"])
        else:
            assert "/problems/second-person-needed" == problem_of(alone, 403)["type"]
            both = await client.post(f"{LOT}/dispositions", json=examples.RELEASE, headers=otto)
            assert (201, "otto", False) == (both.status_code, both.json()["by"], "one_person" in both.json())
    await kept.close()
