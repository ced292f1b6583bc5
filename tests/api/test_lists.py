"""Lists of lots over HTTP: what the morning's questions select, what a row says, and every flaw of a query at once."""

from collections.abc import AsyncIterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import httpx
import pytest
from litestar.testing import AsyncTestClient

from service.app import create_app
from service.settings import Settings
from tests.support import examples
from tests.support.problems import problem_of
from tests.support.within import ADDRESS

LOTS = "/v1/lots"
OPENING: dict[str, Any] = {"grade": examples.GRADE}
AGE = {"kind": "age", "id": "age", "from": "made", "to": "asked", "limits": {"upper": 365}}


async def opened(client: httpx.AsyncClient, *names: str, **members: Any) -> None:
    """Open lots of the example's grade."""
    for name in names:
        assert 201 == (await client.put(f"{LOTS}/{name}", json={**OPENING, **members})).status_code


async def listed(client: httpx.AsyncClient, query: str = "") -> list[str]:
    """The ids of the lots that a query selects."""
    answer = await client.get(f"{LOTS}?{query}")
    assert 200 == answer.status_code, answer.text
    return [each["lot"] for each in answer.json()["lots"]]


async def flaws(client: httpx.AsyncClient, query: str) -> list[tuple[str, str]]:
    """The code and the place of each flaw of a query."""
    return [(each["code"], each["at"]) for each in problem_of(await client.get(f"{LOTS}?{query}"), 422)["flaws"]]


async def aged(client: httpx.AsyncClient, code: str, *, is_aged: bool) -> None:
    """Release a revision of a grade, which asks for the age of a lot or does not."""
    rules = [*examples.SPECIFICATION["requirements"], *([AGE] if is_aged else [])]
    added = await client.post(f"/v1/grades/{code}/revisions", json={**examples.SPECIFICATION, "requirements": rules})
    assert 201 == added.status_code, added.text
    number = added.json()["revision"]
    assert 200 == (await client.post(f"/v1/grades/{code}/revisions/{number}/release", json={})).status_code


async def test_states_repeat_and_orders_turn(released: httpx.AsyncClient) -> None:
    """What is open or waits, the newest first, page by page."""
    await opened(released, "B", "A", "C")
    await released.post(f"{LOTS}/A/close", json={})

    assert ["A", "B", "C"] == await listed(released)
    assert ["B", "A", "C"] == await listed(released, "order=opened")
    assert ["C", "B"] == await listed(released, "state=open&state=open&order=-opened")
    assert ["C", "A", "B"] == await listed(released, "state=open&state=waiting&state=closed&order=-opened&disposition=none")
    page = (await released.get(f"{LOTS}?order=-opened&limit=1")).json()
    assert ["A", "B"] == await listed(released, f"order=-opened&after={page['next']}")


async def test_a_row_says_what_stands_open(released: httpx.AsyncClient) -> None:
    """Before a verdict nothing is said of what failed; afterwards the list is there, if empty."""
    await opened(released, "A", made="2026-11-20")
    await opened(released, "B", resubmits="A")
    batch = {"batch": "1", "series": [{"characteristic": "breaking_force", "unit": "N", "values": [900.0] * 20}]}
    assert 201 == (await released.post(f"{LOTS}/A/readings", json=batch)).status_code
    assert 201 == (await released.post(f"{LOTS}/A/close", json={})).status_code
    first, second = (await released.get(LOTS)).json()["lots"]
    shown = (await released.get(f"{LOTS}/A")).json()

    assert first["failed"]
    assert [each for each in first["failed"] if each not in await failing(released)] == []
    assert ("2026-11-20", 0, "failed" in second, "A") == (first["made"], first["claims"], False, second["resubmits"])
    assert ("2026-11-20", "made" in second) == (shown["made"], False)
    assert ["A"] == await listed(released, f"failed={first['failed'][0]}&outcome=fail&outcome=undecided")


async def failing(client: httpx.AsyncClient) -> list[str]:
    """The binding requirements that fail in the verdict on lot A."""
    verdict = (await client.get(f"{LOTS}/A/verdicts/1")).json()["verdict"]
    return [each["requirement"] for each in verdict["findings"] if each["binding"] and each["outcome"] == "fail"]


async def test_all_flaws_of_periods_come_at_once(released: httpx.AsyncClient) -> None:
    """An end before its beginning is a flaw; a period without a moment in it is an empty answer."""
    await opened(released, "A", made="2026-11-20")

    assert [("period-upside-down", "/until"), ("period-upside-down", "/made_until")] == await flaws(
        released, "from=2026-11-02&until=2026-11-01&made_from=2026-11-02&made_until=2026-11-01"
    )
    assert [("no-such-day", "/from"), ("not-a-moment", "/until"), ("not-known-here", "/state")] == await flaws(
        released, "from=2026-02-30&until=yesterday&state=open&state=opened"
    )
    assert [("no-such-day", "/made_from")] == await flaws(released, "made_from=2026-02-30")
    assert [("unknown-lot", "/after")] == await flaws(released, "order=opened&after=nowhere")
    assert [] == await listed(released, "from=2026-11-01T00:00:00Z&until=2026-11-01T00:00:00Z")
    assert [] == await listed(released, "made_from=2026-11-21")
    assert ["A"] == await listed(released, "made_from=2026-11-20&made_until=2026-11-20")
    assert [] == await listed(released, "after=nowhere")


async def test_the_nearest_known_word_is_offered(released: httpx.AsyncClient) -> None:
    """Whoever mistypes a state or a parameter reads which one was meant."""
    found = problem_of(await released.get(f"{LOTS}?state=closd&orders=lot"), 422)["flaws"]

    assert ["`closed`" in found[0]["text"], "`order`" in found[1]["text"]] == [True, True]


@pytest.fixture
async def kiritimati(tmp_path: Path) -> AsyncIterator[httpx.AsyncClient]:
    """Speaks to a service whose day begins 14 hours before that of UTC."""
    settings = Settings(database_url=f"sqlite:///{tmp_path}/far.db", time_zone="Pacific/Kiritimati")
    async with AsyncTestClient(create_app(settings), base_url=ADDRESS) as speaking:
        yield speaking


async def test_a_bare_day_is_that_day_in_the_zone_of_the_settings(kiritimati: httpx.AsyncClient) -> None:
    """The day is included as a beginning and as an end."""
    await aged(kiritimati, examples.GRADE, is_aged=False)
    await opened(kiritimati, "A")
    at = datetime.fromisoformat((await kiritimati.get(f"{LOTS}/A")).json()["opened_at"])
    here = at.astimezone(ZoneInfo("Pacific/Kiritimati")).date()
    day, before, after = (here + timedelta(days=days) for days in (0, -1, 1))

    assert ["A"] == await listed(kiritimati, f"from={day}&until={day}")
    assert [] == await listed(kiritimati, f"until={before}")
    assert [] == await listed(kiritimati, f"from={after}")
    assert ["A"] == await listed(kiritimati, f"until={(at + timedelta(seconds=1)).astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}")


async def dates(client: httpx.AsyncClient, lot: str) -> object:
    """The dates of a lot's evidence."""
    return (await client.get(f"{LOTS}/{lot}/evidence")).json().get("dates")


async def test_the_day_of_making_is_evidence_where_the_grade_names_it(client: httpx.AsyncClient) -> None:
    """Elsewhere it is shown and searched by, and judged by nobody; a newer revision that names it finds it."""
    await aged(client, examples.GRADE, is_aged=False)
    await opened(client, "A", made="2026-11-20")
    assert await dates(client, "A") is None
    await aged(client, examples.GRADE, is_aged=True)
    await opened(client, "B", made="2026-11-21")
    moved = await client.post(f"{LOTS}/A/revision", json={"id": "M", "revision": 2, "reason": "By its age too."})

    assert (201, "2026-11-20") == (moved.status_code, moved.json()["made"])
    assert [{"event": "made", "date": "2026-11-20"}] == await dates(client, "A")
    assert [{"event": "made", "date": "2026-11-21"}] == await dates(client, "B")


async def test_a_batch_that_dates_the_making_otherwise_is_refused(client: httpx.AsyncClient) -> None:
    """Stated again it counts once; a strike of the opening's day makes room for another."""
    await aged(client, examples.GRADE, is_aged=True)
    await opened(client, "A", made="2026-11-20")

    def batch(name: str, day: str) -> dict[str, Any]:
        return {"batch": name, "dates": [{"event": "made", "date": day}]}

    other = await client.post(f"{LOTS}/A/readings", json=batch("1", "2026-11-19"))
    same = await client.post(f"{LOTS}/A/readings", json=batch("2", "2026-11-20"))

    assert "/problems/conflict" == problem_of(other, 409)["type"]
    assert "2026-11-20" in other.json()["detail"]
    assert (201, [{"event": "made", "date": "2026-11-20"}]) == (same.status_code, await dates(client, "A"))
    await client.post(f"{LOTS}/A/strikes", json={"id": "S", "of": "2", "at": ["/dates/0"], "reason": "Mistyped."})
    await client.post(f"{LOTS}/A/strikes", json={"id": "T", "at": ["/dates/0"], "reason": "Mistyped."})
    assert 201 == (await client.post(f"{LOTS}/A/readings", json=batch("3", "2026-11-19"))).status_code
    assert [{"event": "made", "date": "2026-11-19"}] == await dates(client, "A")


async def test_an_opening_with_its_day_repeats_and_differs_by_what_was_sent(client: httpx.AsyncClient) -> None:
    """The day is stored beside the opening, and compared as if it were in it."""
    await aged(client, examples.GRADE, is_aged=True)
    sent = {**OPENING, "made": "2026-11-20"}
    found = [await client.put(f"{LOTS}/A", json=each) for each in (sent, sent, {**sent, "made": "2026-11-21"}, OPENING)]

    assert [201, 200, 409, 409] == [each.status_code for each in found]
    for refused in found[2:]:
        assert ["/made"] == [each["at"] for each in refused.json()["flaws"]]


async def test_a_day_that_is_none_or_stated_twice_is_refused(client: httpx.AsyncClient) -> None:
    """All at once, in the opening's own words."""
    await aged(client, examples.GRADE, is_aged=True)
    sent = {**OPENING, "made": "2026-02-30", "dates": [{"event": "made", "date": "2026-02-28"}]}
    found = problem_of(await client.put(f"{LOTS}/A", json=sent), 422)["flaws"]

    assert [("no-such-day", "/made"), ("dated-twice", "/dates/0/event")] == [(each["code"], each["at"]) for each in found]


async def claimed(client: httpx.AsyncClient, lot: str, *names: str) -> None:
    """A closed lot with claims."""
    await opened(client, lot)
    assert 201 == (await client.post(f"{LOTS}/{lot}/close", json={})).status_code
    claim = {name: said for name, said in examples.CLAIM.items() if name != "evidence"}
    for name in names:
        assert 201 == (await client.put(f"{LOTS}/{lot}/claims/{name}", json=claim)).status_code


async def claims(client: httpx.AsyncClient, query: str = "") -> list[str]:
    """Lot and name of the claims that a query selects."""
    answer = await client.get(f"/v1/claims?{query}")
    assert 200 == answer.status_code, answer.text
    return [f"{each['lot']}/{each['claim']}" for each in answer.json()["claims"]]


async def test_claims_of_all_lots_come_newest_first(released: httpx.AsyncClient) -> None:
    """Open or settled, of a grade, page by page; a lot's row counts the open ones."""
    await claimed(released, "B", "R-1", "R-2")
    await claimed(released, "A", "R-1")
    settled = await released.post(f"{LOTS}/B/claims/R-2/settle", json=examples.SETTLEMENT)
    assert 201 == settled.status_code

    assert ["A/R-1", "B/R-2", "B/R-1"] == await claims(released)
    assert ["A/R-1", "B/R-1"] == await claims(released, f"state=open&grade={examples.GRADE}")
    assert ["B/R-2"] == await claims(released, "state=settled")
    assert [] == await claims(released, "grade=TB-9")
    page = (await released.get("/v1/claims?limit=2")).json()
    assert ["B/R-1"] == await claims(released, f"after={page['next']}")
    assert examples.SETTLEMENT["reason"] == page["claims"][1]["settled"]["reason"]
    assert [1, 1] == [each["claims"] for each in (await released.get(LOTS)).json()["lots"]]
    assert "/after" == problem_of(await released.get("/v1/claims?after=A/R-9"), 422)["flaws"][0]["at"]
    assert "/state" == problem_of(await released.get("/v1/claims?state=opened"), 422)["flaws"][0]["at"]


async def test_instruments_that_are_overdue(kiritimati: httpx.AsyncClient) -> None:
    """Before today, not today; by the newest version; one without a day is never overdue."""
    here = datetime.now(ZoneInfo("Pacific/Kiritimati")).date()
    days = {"PAST": here - timedelta(days=1), "TODAY": here, "RENEWED": here - timedelta(days=9), "NEVER": None}
    for name, day in [*days.items(), ("RENEWED", here + timedelta(days=9))]:
        until = {"calibrated_until": f"{day}"} if day else {}
        put = await kiritimati.put(f"/v1/instruments/{name}", json={"measures": ["force"], **until})
        assert put.status_code in (200, 201)

    async def instruments(query: str) -> list[str]:
        return [each["instrument"] for each in (await kiritimati.get(f"/v1/instruments?{query}")).json()["instruments"]]

    assert ["PAST"] == await instruments("overdue=true")
    assert ["NEVER", "RENEWED", "TODAY"] == await instruments("overdue=false")
    assert ["NEVER", "PAST", "RENEWED", "TODAY"] == await instruments("")
