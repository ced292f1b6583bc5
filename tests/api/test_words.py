"""Refusals that inspectors and programmers meet most often, word by word: each says what was sent and what to send instead."""

import httpx
import pytest

from tests.api.test_rows import CSV
from tests.support import examples
from tests.support.problems import problem_of

LOT = f"/v1/lots/{examples.LOT}"
REVISIONS = f"/v1/grades/{examples.GRADE}/revisions"
HEADER = "characteristic,unit,value\n"
FORM = "Use letters, digits, `.`, `_` and `-`, a letter or a digit first, at most 64."
JSON_TYPE = {"content-type": "application/json"}


@pytest.fixture
async def lot(released: httpx.AsyncClient) -> httpx.AsyncClient:
    """A client, with the example's lot open."""
    assert 201 == (await released.put(LOT, json=examples.OPENING)).status_code
    return released


@pytest.mark.parametrize(
    ("query", "says"),
    [
        ("attribute=4500031877", "`4500031877` is not an attribute with its value. Write it as `name:value`."),
        ("from=2026-11-25T06:00:00", "`2026-11-25T06:00:00` has no time zone. Add the time zone, as in 06:00+01:00."),
        (
            "from=2026-11-25T06:00:00+01:00",
            "`2026-11-25T06:00:00 01:00` has a space before the time zone. Write `+`, which is `%2B` in a query.",
        ),
        ("from=yesterday", "`yesterday` is not a date and time. Write it as 2026-11-25T06:00:00+01:00."),
        ("limit=0", "`limit` is 0, and must be at least 1. Correct it."),
        ("limit=ten", "`ten` is not a whole number. Write a whole number in digits, without a zero in front."),
        (
            "line=3/4",
            f"`3/4` has `/`, which `line` may not have. {FORM}",
        ),
        (
            "grade=TB%20130",
            f"`TB 130` has a space, which `grade` may not have. {FORM}",
        ),
    ],
)
async def test_a_search_for_lots_says_how_it_is_written(client: httpx.AsyncClient, query: str, says: str) -> None:
    """Callers write queries by hand."""
    assert says == problem_of(await client.get(f"/v1/lots?{query}"), 422)["detail"]


@pytest.mark.parametrize(
    ("rows", "says"),
    [
        ("breaking_force,N,9,1\n", "Line 2: `9,1` is not a number. Write 9.1."),
        ('breaking_force,N,1474.5\n\nbreaking_force,N,"9,1"\n', "Line 4: `9,1` is not a number. Write 9.1."),
        ("breaking_force,N,broke\n", "Line 2: `broke` is not a number. Write a number such as 9.1."),
        ("breaking_force,N\n", "Line 2: The row has 2 cells, and the header 3. Leave a cell empty where it has no value."),
    ],
)
async def test_a_row_of_csv_is_named_by_its_line(lot: httpx.AsyncClient, rows: str, says: str) -> None:
    """A spreadsheet set to another country writes decimal commas, and shows the header as line 1."""
    answer = await lot.post(f"{LOT}/readings?batch=B", content=HEADER + rows, headers={"content-type": CSV})

    assert says == problem_of(answer, 422)["detail"]


async def test_a_semicolon_between_columns_is_named(lot: httpx.AsyncClient) -> None:
    """As the same spreadsheets write CSV."""
    rows = HEADER.replace(",", ";") + "breaking_force;N;9,1\n"
    answer = await lot.post(f"{LOT}/readings?batch=B", content=rows, headers={"content-type": CSV})

    assert (
        "There is no column `characteristic;unit;value`. Write a comma between two columns."
        == problem_of(answer, 422)["flaws"][0]["text"]
    )


@pytest.mark.parametrize("path", [f"{LOT}/close", f"{REVISIONS}/1/release"])
async def test_an_empty_body_is_answered_with_the_one_to_send(lot: httpx.AsyncClient, path: str) -> None:
    """Closing and releasing need nothing to be said, so callers send nothing."""
    bare = problem_of(await lot.post(path), 415)
    typed = problem_of(await lot.post(path, headers=JSON_TYPE), 400)

    assert "The body is empty. Send `{}`, with the header Content-Type: application/json." == bare["detail"]
    assert "The body is empty. Send `{}`." == typed["detail"]


async def test_an_empty_body_where_something_must_be_said(lot: httpx.AsyncClient) -> None:
    """`{}` would be refused there."""
    problem = problem_of(await lot.post(f"{LOT}/strikes", headers=JSON_TYPE), 400)

    assert "The body is empty. Send a JSON document." == problem["detail"]


async def test_post_on_a_list_is_answered_with_what_opens_a_lot(client: httpx.AsyncClient) -> None:
    """Most interfaces add to a list by POST; here a lot has its own path."""
    lots, docs = await client.post("/v1/lots", json={}), await client.post("/v1/units", json={})

    assert "POST can't be used on `/v1/lots`. To open a lot, send `PUT /v1/lots/{lot}`." == problem_of(lots, 405)["detail"]
    assert "POST can't be used on `/v1/units`. Use GET, HEAD, OPTIONS." == problem_of(docs, 405)["detail"]


@pytest.mark.parametrize("name", ["0412/07", "0412%2F07"])
async def test_a_slash_in_the_name_of_a_lot(client: httpx.AsyncClient, name: str) -> None:
    """Mills write lots with slashes, and a path can't."""
    problem = problem_of(await client.put(f"/v1/lots/{name}", json=examples.OPENING), 404)

    assert "There is no path `/v1/lots/0412/07`. A lot's name may not have `/`. See /docs for the paths." == problem["detail"]


async def test_a_space_in_the_name_of_a_lot(client: httpx.AsyncClient) -> None:
    """No lot can have it, so there is none."""
    problem = problem_of(await client.get("/v1/lots/0412%2007"), 404)

    assert f"`0412 07` can't be the name of a lot. {FORM}" == problem["detail"]


async def test_another_host_is_named_with_the_setting(client: httpx.AsyncClient) -> None:
    """Whoever set up a proxy or a name reads which one arrived, and where to allow it."""
    problem = problem_of(await client.get("/v1/units", headers={"host": "yarn.mill.example:8000"}), 421)

    assert (
        "`yarn.mill.example:8000` in the header Host is not a name of this service. Correct the address, or have the name "
        "added to MARKERYARN_HOSTS."
    ) == problem["detail"]


@pytest.mark.parametrize(
    ("value", "says"),
    [
        ("9,1", "`9,1` is not a number. Write 9.1."),
        ("9.1", "`9.1` is in quotation marks, and must be a number. Write it without them."),
        ("strong", "`strong` is not a number. Write a number such as 9.1."),
        (True, "`value` must be a number, and is `true`. Correct it."),
        (None, "`value` is null, and must be a number. Give it a value, or leave it out."),
        ([9.1], "`value` must be a number, and is a list. Correct it."),
    ],
)
async def test_a_reading_that_is_not_a_number(client: httpx.AsyncClient, value: object, says: str) -> None:
    """Stations send what their displays show."""
    check = {"grade": examples.GRADE, "characteristic": "breaking_force", "unit": "N", "value": value}

    assert says == problem_of(await client.post("/v1/checks", json=check), 422)["flaws"][0]["text"]
