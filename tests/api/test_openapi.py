"""The published document: committed as it is produced, closed where we read, and true in every example."""

import json
from collections.abc import Iterator
from inspect import cleandoc
from pathlib import Path
from typing import Any

import httpx
import jsonschema_rs
import pytest

from service.api import claiming_examples, disposing_examples, examples, ledger_examples, line_examples, trend_examples
from service.api.openapi import written
from service.api.routes import routes
from service.api.routing import Route
from tests.support.shown import documents_in

COMMITTED = Path(__file__).parents[2] / "openapi" / "openapi.json"
DOCUMENT: dict[str, Any] = json.loads(written(routes()))
SHOWN = [route for route in routes() if route.in_document]
NAMES = {
    "grade": examples.GRADE,
    "revision": "1",
    "key": examples.KEY,
    "lot": ledger_examples.LOT,
    "batch": ledger_examples.BATCH,
    "verdict": "1",
    "characteristic": trend_examples.CHARACTERISTIC,
    "instrument": ledger_examples.INSTRUMENT,
    "line": line_examples.LINE,
    "claim": claiming_examples.NAME,
    "concession": disposing_examples.GRANTED["concession"],
}
READING = {"characteristic": "breaking_force", "unit": "N", "value": 1432.5}


def operation_of(route: Route) -> dict[str, Any]:
    """What the document says of a route."""
    operation: dict[str, Any] = DOCUMENT["paths"][route.path][route.method.lower()]
    return operation


def resolved(part: dict[str, Any]) -> dict[str, Any]:
    """A part of the document, or the component that it points to."""
    if "$ref" not in part:
        return part
    found: Any = DOCUMENT
    for name in part["$ref"].removeprefix("#/").split("/"):
        found = found[name]
    return dict(found)


def check(value: object, schema: dict[str, Any]) -> None:
    """The value has the shape that a schema of the document asks for."""
    jsonschema_rs.validator_for({**schema, "components": DOCUMENT["components"]}).validate(value)


def content_of(part: dict[str, Any]) -> Iterator[tuple[dict[str, Any], str, object]]:
    """(schema, name of an example, the example) of a body or an answer."""
    for content in resolved(part).get("content", {}).values():
        for name, example in content["examples"].items():
            yield content["schema"], name, example["value"]


def test_the_committed_document_is_the_one_that_is_produced() -> None:
    """Integrators read the file, clients read the service: `markeryarn openapi` writes it anew."""
    assert COMMITTED.read_text() == written(routes())


def test_no_description_shows_the_indentation_of_our_sources() -> None:
    """The lowest msgspec that we allow leaves a docstring's in, later ones take it out; the document is the same by each."""
    assert [] == [text for text in descriptions_in(DOCUMENT) if text != cleandoc(text)]


def descriptions_in(part: object) -> Iterator[str]:
    """All descriptions in a part of the document."""
    if isinstance(part, list):
        for each in part:
            yield from descriptions_in(each)
    elif isinstance(part, dict):
        if isinstance(part.get("description"), str):
            yield part["description"]
        for each in part.values():
            yield from descriptions_in(each)


def test_every_operation_has_a_name_of_its_own() -> None:
    """Generated clients name their methods by it."""
    names = [operation_of(route)["operationId"] for route in SHOWN]

    assert sorted(set(names)) == sorted(names)


@pytest.mark.parametrize("route", SHOWN, ids=lambda route: route.operation_id)
def test_every_answer_has_a_schema_and_an_example_that_fits_it(route: Route) -> None:
    """But for those that have no body."""
    operation = operation_of(route)
    assert operation["summary"]
    assert operation["description"].endswith(".")
    for status, answer in operation["responses"].items():
        shown = list(content_of(answer))
        assert shown or status == "304"
        for schema, _, example in shown:
            check(example, schema)
    for schema, _, example in content_of(operation.get("requestBody", {})):
        check(example, schema)


def objects_in(schema: object) -> Iterator[dict[str, Any]]:
    """All objects that a schema describes, by its references too."""
    if isinstance(schema, list):
        for each in schema:
            yield from objects_in(each)
    elif isinstance(schema, dict):
        if "$ref" in schema:
            yield from objects_in(resolved(schema))
        if schema.get("type") == "object":
            yield schema
        for name, each in schema.items():
            if name != "discriminator":
                yield from objects_in(each)


@pytest.mark.parametrize("route", [route for route in SHOWN if route.body], ids=lambda route: route.operation_id)
def test_what_we_read_is_closed(route: Route) -> None:
    """A field that nobody reads is refused, and the document says so."""
    body = operation_of(route)["requestBody"]["content"]["application/json"]["schema"]

    assert [] == [each for each in objects_in(body) if each.get("additionalProperties") is not False]


def test_nothing_is_nullable_and_no_pattern_is_pythons() -> None:
    r"""Absent means absent; and `\Z` is no end of a text in JSON Schema."""
    text = json.dumps(DOCUMENT)

    assert '"null"' not in text
    assert "\\\\Z" not in text


@pytest.mark.parametrize(
    ("name", "good", "bad"),
    [
        ("Limits", [{"lower": 1}, {"nominal": 1, "plus": 2, "tolerance": "percent"}], [{}, {"lower": 1, "nominal": 2}]),
        ("Allowed", [{"count": 1}, {"percent": 5}], [{}, {"count": 1, "percent": 5}]),
        (
            "ReadingToCheck",
            [{**READING, "grade": "x", "revision": 1}, {**READING, "lot": "x"}],
            [READING, {**READING, "grade": "x", "lot": "x"}, {**READING, "lot": "x", "revision": 1}],
        ),
        ("Against", [{"grade": "x"}, {"grade": "x", "revision": 1}], [{}, {"revision": 1}]),
    ],
)
def test_what_has_two_shapes_has_one_of_them(name: str, good: list[object], bad: list[object]) -> None:
    """A generator of clients makes two types of it."""
    validator = jsonschema_rs.validator_for({"$ref": f"#/components/schemas/{name}", "components": DOCUMENT["components"]})

    assert [True] * len(good) == [validator.is_valid(each) for each in good]
    assert [False] * len(bad) == [validator.is_valid(each) for each in bad]


@pytest.mark.parametrize("route", SHOWN, ids=lambda route: route.operation_id)
async def test_every_example_is_answered_as_documented(released: httpx.AsyncClient, route: Route) -> None:
    """Sent as it stands, to a service that has the example's grade released."""
    path = route.path.format(**NAMES)
    bodies = [example.document for example in route.body.examples] if route.body else [None]
    for body in bodies:
        content = {} if body is None else {"json": body}
        answer = await released.request(route.method, path, headers={"if-match": "*"} if route.headers else {}, **content)
        stated = resolved(operation_of(route)["responses"][str(answer.status_code)])
        media_type = answer.headers.get("content-type", "").partition(";")[0]
        assert "x-request-id" in answer.headers
        for said in documents_in(media_type, answer.content) if answer.content else ():
            check(said, stated["content"][media_type]["schema"])


@pytest.mark.parametrize(
    "path", ["/v1/checks", "/v1/verdicts", "/v1/draws", "/v1/gradings", "/v1/sampling-plans", "/v1/reviews"]
)
async def test_what_judges_answers_exactly_what_the_document_shows(released: httpx.AsyncClient, path: str) -> None:
    """The examples are what an integrator compares with."""
    lot, outside = f"/v1/lots/{ledger_examples.LOT}", [{**ledger_examples.READINGS["series"][0], "values": [1112, 1512]}]
    await released.put(lot, json=ledger_examples.OPENING)
    await released.post(f"{lot}/readings", json={"batch": ledger_examples.BATCH, "series": outside})
    operation = DOCUMENT["paths"][path]["post"]
    asked = {name: example for _, name, example in content_of(operation["requestBody"])}
    answered = {name: (await released.post(path, json=example)).json() for name, example in asked.items()}

    assert {name: example for _, name, example in content_of(operation["responses"]["200"])} == answered


def test_the_page_says_first_that_a_breaking_force_is_no_working_load() -> None:
    """Whoever reads a force there must read it, too."""
    page = (Path(__file__).parents[2] / "service" / "api" / "docs" / "index.html").read_text()

    assert "A breaking force is not a working load." in page
    assert "style=" not in page
    assert "<script>" not in page
