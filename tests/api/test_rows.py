"""Readings that come a row at a time."""

import httpx
import pytest

from tests.support import examples
from tests.support.problems import problem_of

LOT = f"/v1/lots/{examples.LOT}"
CSV = "text/csv; charset=utf-8"


@pytest.fixture
async def lot(released: httpx.AsyncClient) -> httpx.AsyncClient:
    """A client, with the example's lot open."""
    assert 201 == (await released.put(LOT, json=examples.OPENING)).status_code
    return released


async def send(client: httpx.AsyncClient, media_type: str, rows: str, query: str = "batch=B&station=T3") -> httpx.Response:
    """Rows of a batch."""
    return await client.post(f"{LOT}/readings?{query}", content=rows, headers={"content-type": media_type})


ROWS = {
    "text/csv": "value,unit,characteristic,package,remark\n1474.5,N,breaking_force,b1,\n1512,N,breaking_force,b2,slipped\n",
    "application/x-ndjson": '{"characteristic":"breaking_force","unit":"N","value":1474.5,"package":"b1"}\n'
    '{"characteristic":"breaking_force","unit":"N","value":1512,"package":"b2","remark":"slipped"}\n',
}


@pytest.mark.parametrize("media_type", ROWS)
async def test_rows_become_columns_and_are_counted_once(lot: httpx.AsyncClient, media_type: str) -> None:
    """A tester that writes files sends them as they are, and again when in doubt."""
    statuses = [(await send(lot, media_type, ROWS[media_type])).status_code for _ in range(2)]
    kept = {"characteristic": "breaking_force", "unit": "N", "packages": ["b1", "b2"], "remarks": ["", "slipped"]}

    assert [201, 200] == statuses
    assert [{**kept, "values": [1474.5, 1512]}] == (await lot.get(f"{LOT}/evidence")).json()["series"]


@pytest.mark.parametrize(
    ("rows", "flaws"),
    [
        ("characteristic,unit,valeu\n", [("unknown-column", ""), ("column-missing", "")]),
        (
            "characteristic,unit,value\nbreaking_force,N,-1\nbreaking_force,kg,3\n",
            [("negative", "/0/value"), ("unit-of-other-quantity", "/1/unit")],
        ),
        ("characteristic,unit,value\nbreaking_force,N\n", [("cells-differ-in-number", "/0")]),
    ],
)
async def test_flaws_are_told_by_the_rows(lot: httpx.AsyncClient, rows: str, flaws: list[tuple[str, str]]) -> None:
    """Whoever mends the file finds the line; nothing of it is kept."""
    found = problem_of(await send(lot, CSV, rows), 422)["flaws"]

    assert flaws == [(flaw["code"], flaw["at"]) for flaw in found]
    assert [] == (await lot.get(LOT)).json()["readings"]


async def test_rows_need_an_id(lot: httpx.AsyncClient) -> None:
    """Else they would be counted twice when sent again."""
    assert ["/batch"] == [flaw["at"] for flaw in problem_of(await send(lot, CSV, ROWS["text/csv"], ""), 422)["flaws"]]
