"""What one request may have at most, so that no caller takes the service from all others."""

import json
from collections.abc import AsyncIterator, Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from litestar.testing import AsyncTestClient

from service.api.bodies.documents import ITEMS_PER_READING, OTHER_ITEMS
from service.api.strict.grammar import MOST_PARTS
from service.app import create_app
from service.settings import Settings
from tests.faults.invented import GRADE
from tests.faults.talking import HungUpError, Line
from tests.support.commands import SPECIFICATION, forces
from tests.support.problems import problem_of
from tests.support.servers import Server, serving
from tests.support.within import ADDRESS

MOST = 10
HEAD = b"GET /health/live HTTP/1.1\r\nHost: 127.0.0.1\r\n"


@pytest.fixture
async def client(tmp_path: Path) -> AsyncIterator[httpx.AsyncClient]:
    """Speaks to a service that judges ten readings at a time."""
    application = create_app(Settings(database_url=f"sqlite:///{tmp_path}/grades.db", most_readings=MOST))
    async with AsyncTestClient(application, base_url=ADDRESS) as made:
        yield made


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A server."""
    with serving(tmp_path_factory.mktemp("server")) as made:
        yield made


def asked(path: str, series: int, values: int) -> dict[str, Any]:
    """A lot with so many series of so many values, as the path takes it."""
    evidence = forces(*[1432.5] * values)
    evidence = {**evidence, "series": list(evidence["series"]) * series}
    against = {"grades": [GRADE]} if path == "/v1/gradings" else {"against": {"specification": SPECIFICATION}}
    return {**against, "evidence": evidence}


@pytest.mark.parametrize(("series", "values"), [(1, MOST + 1), (2, MOST // 2 + 1)])
@pytest.mark.parametrize("path", ["/v1/verdicts", "/v1/gradings"])
async def test_more_readings_than_are_judged_at_a_time_are_a_flaw(
    client: httpx.AsyncClient, path: str, series: int, values: int
) -> None:
    """However they are spread over series; the flaw says how many there are and how many may be."""
    await client.post(f"/v1/grades/{GRADE}/revisions", json=SPECIFICATION)
    await client.post(f"/v1/grades/{GRADE}/revisions/1/release", json={})

    problem = problem_of(await client.post(path, json=asked(path, series, values)), 422)

    (flaw,) = problem["flaws"]
    assert ("too-many-readings", "/evidence/series") == (flaw["code"], flaw["at"])
    assert f"The request has {series * values} readings, and at most {MOST} are taken at a time." in flaw["text"]


@pytest.mark.parametrize(
    ("path", "media_type", "at"),
    [
        ("readings", "application/json", "/series"),
        ("readings?batch=B", "text/csv", ""),
        ("readings?batch=B", "application/x-ndjson", ""),
        ("corrections", "application/json", "/series"),
    ],
)
async def test_more_readings_than_are_taken_at_a_time_are_a_flaw_of_a_batch(
    client: httpx.AsyncClient, path: str, media_type: str, at: str
) -> None:
    """However they come to the ledger, and nothing of them is kept."""
    await client.post(f"/v1/grades/{GRADE}/revisions", json=SPECIFICATION)
    await client.post(f"/v1/grades/{GRADE}/revisions/1/release", json={})
    assert 201 == (await client.put("/v1/lots/L-1", json={"grade": GRADE})).status_code
    row = {"characteristic": "breaking_force", "unit": "N", "value": 1432.5}
    series = [{"characteristic": "breaking_force", "unit": "N", "values": [1432.5] * (MOST + 1)}]
    content = {
        "text/csv": "characteristic,unit,value\n" + "breaking_force,N,1432.5\n" * (MOST + 1),
        "application/x-ndjson": f"{json.dumps(row)}\n" * (MOST + 1),
        "application/json": json.dumps({"batch": "B", "series": series}),
    }[media_type]
    if path == "corrections":
        content = json.dumps({"id": "B", "reason": "Read again.", "series": series})

    answer = await client.post(f"/v1/lots/L-1/{path}", content=content, headers={"content-type": media_type})

    (flaw,) = problem_of(answer, 422)["flaws"]
    assert ("too-many-readings", at) == (flaw["code"], flaw["at"])
    assert [] == (await client.get("/v1/lots/L-1")).json()["readings"]


@pytest.mark.parametrize(
    ("path", "media_type", "content"),
    [
        ("/v1/lots/L-1/readings?batch=B", "text/csv", "1\n" * (MOST + 2)),
        ("/v1/lots/L-1/readings?batch=B", "text/csv", "1\r" * (MOST + 2)),
        ("/v1/lots/L-1/readings?batch=B", "application/x-ndjson", "1\n" * (MOST + 2)),
        ("/v1/verdicts", "application/json", "[" + "1," * (ITEMS_PER_READING * MOST + OTHER_ITEMS + 1) + "1]x"),
    ],
)
async def test_what_is_far_too_much_is_counted_and_not_read(
    client: httpx.AsyncClient, path: str, media_type: str, content: str
) -> None:
    """Reading eight million rows to say that none of them is right would take a gigabyte."""
    await client.post(f"/v1/grades/{GRADE}/revisions", json=SPECIFICATION)
    await client.post(f"/v1/grades/{GRADE}/revisions/1/release", json={})
    await client.put("/v1/lots/L-1", json={"grade": GRADE})
    answer = await client.post(path, content=content, headers={"content-type": media_type})

    assert ["too-many-readings"] == [flaw["code"] for flaw in problem_of(answer, 422)["flaws"]]


async def test_a_document_of_very_many_parts_is_counted_and_not_read(client: httpx.AsyncClient) -> None:
    """Each empty list takes twenty times its bytes; a text may hold as many brackets as it has room for."""
    for content, code in (("[" * (MOST_PARTS + 1), "too-many-parts"), ('"' + "[" * MOST_PARTS + '"', "wrong-type")):
        answer = await client.post("/v1/verdicts", content=content, headers={"content-type": "application/json"})
        assert [code] == [flaw["code"] for flaw in answer.json()["flaws"]]


async def test_as_many_readings_as_may_be_are_judged(client: httpx.AsyncClient) -> None:
    """The limit is the last that is taken."""
    assert 200 == (await client.post("/v1/verdicts", json=asked("/v1/verdicts", 1, MOST))).status_code


@pytest.mark.parametrize("lines", [b"X-Long: " + b"x" * 1_000_000 + b"\r\n", b"X-Again: x\r\n" * 101], ids=["long", "many"])
def test_a_head_without_end_is_refused(server: Server, lines: bytes) -> None:
    """Before it is all held in memory; the server hangs up then."""
    line = Line(f"http://127.0.0.1:{server.port}")
    try:
        assert 431 == line.ask(HEAD + lines + b"\r\n").status
    except HungUpError:
        pass  # it may hang up before all is sent
    finally:
        line.close()
    with_little = Line(f"http://127.0.0.1:{server.port}")
    try:
        assert 200 == with_little.ask(HEAD + b"X-Some: " + b"x" * 8000 + b"\r\n\r\n").status
    finally:
        with_little.close()
