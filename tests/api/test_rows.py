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
        ("characteristic,unit,value\n", [("too-short", "")]),
        ("characteristic,unit,value", [("too-short", "")]),
        ("\ufeffcharacteristic,unit,value\r\n\r\n", [("too-short", "")]),
        ("", [("column-missing", "")] * 3),
        ("value,unit,value,characteristic\n1,N,2,a\n", [("column-twice", "")]),
        (
            'characteristic,unit,value\n"breaking_force,N,1\nbreaking_force,N,x\n',
            [("not-csv", "/0"), ("wrong-type", "/1/value")],
        ),
        ("characteristic,unit,value\nbreaking_force,N,1\n" + "1," * 10_000, [("too-long", "/1")]),
        ("value," * 10_000, [("too-long", "")]),
        ("characteristic,unit,value,package\nbreaking_force,N,1,b\t1\n", [("control-character", "/0/package")]),
        ("characteristic,unit,value\nbreaking_force,N,1e13\n", [("beyond-range", "/0/value")]),
    ],
)
async def test_flaws_are_told_by_the_rows(lot: httpx.AsyncClient, rows: str, flaws: list[tuple[str, str]]) -> None:
    """Whoever mends the file finds the line; nothing of it is kept."""
    found = problem_of(await send(lot, CSV, rows), 422)["flaws"]

    assert flaws == [(flaw["code"], flaw["at"]) for flaw in found]
    assert [] == (await lot.get(LOT)).json()["readings"]


@pytest.mark.parametrize(
    ("rows", "flaws"),
    [
        ("", [("too-short", "")]),
        ("\n", [("empty-body", "/0")]),
        ('{"characteristic":"breaking_force","unit":"N","value":1}\n{}\n', [("missing-field", "/1/characteristic")]),
        ('{"remark":"' + "x" * 20_000 + '"}\n{', [("too-long", "/0")]),
    ],
)
async def test_flaws_of_lines_are_told_by_the_lines(lot: httpx.AsyncClient, rows: str, flaws: list[tuple[str, str]]) -> None:
    """The same for NDJSON; the first flaw is enough here."""
    found = problem_of(await send(lot, "application/x-ndjson", rows), 422)["flaws"]

    assert flaws == [(flaw["code"], flaw["at"]) for flaw in found][: len(flaws)]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
async def test_lines_end_as_on_any_system(lot: httpx.AsyncClient, end: str) -> None:
    """A tester's program writes them as its system does, and a mark of the order of bytes in front."""
    rows = end.join(["\ufeffcharacteristic,unit,value", "", '"breaking_force",N,1474.5', "breaking_force,N,1512"])

    assert 201 == (await send(lot, CSV, rows)).status_code
    assert [[1474.5, 1512]] == [each["values"] for each in (await lot.get(f"{LOT}/evidence")).json()["series"]]


async def test_rows_of_more_kinds_than_series_are_taken_are_told_where_that_begins(lot: httpx.AsyncClient) -> None:
    """A file whose columns are swapped has a characteristic a row; the rest of it is not read."""
    rows = "characteristic,unit,value\n" + "".join(f"a{number},N,1\n" for number in range(1_500)) + "a,N,x\n"
    found = problem_of(await send(lot, CSV, rows), 422)["flaws"]

    assert [("too-many-kinds", "/1000")] == [(flaw["code"], flaw["at"]) for flaw in found]


async def test_bytes_that_are_not_utf_8_are_told_by_their_row(lot: httpx.AsyncClient) -> None:
    """A spreadsheet that writes another charset does so in the one row with an accent."""
    rows = b"characteristic,unit,value,package\nbreaking_force,N,1,b1\nbreaking_force,N,1,\xe9\n"
    answer = await lot.post(f"{LOT}/readings?batch=B", content=rows, headers={"content-type": "text/csv"})

    assert [("not-csv", "/1")] == [(flaw["code"], flaw["at"]) for flaw in problem_of(answer, 422)["flaws"]]


@pytest.mark.parametrize("media_type", ["text/csv", "application/x-ndjson"])
async def test_the_search_of_rows_ends_at_a_thousand_flaws(lot: httpx.AsyncClient, media_type: str) -> None:
    """A file of another kind is told so at once."""
    header = "characteristic,unit,value\n" if media_type == "text/csv" else ""
    problem = problem_of(await send(lot, media_type, header + "1\n" * 5_000), 422)

    assert (100, 900) == (len(problem["flaws"]), problem["more_flaws"])


async def test_rows_need_an_id(lot: httpx.AsyncClient) -> None:
    """Else they would be counted twice when sent again."""
    assert ["/batch"] == [flaw["at"] for flaw in problem_of(await send(lot, CSV, ROWS["text/csv"], ""), 422)["flaws"]]
