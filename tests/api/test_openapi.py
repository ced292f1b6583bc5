"""The published document: committed as it is produced, closed where we read, and true in every example."""

import json
from collections.abc import Iterator
from inspect import cleandoc
from pathlib import Path
from typing import Any

import httpx
import jsonschema_rs
import pytest

from service.api.document.document import written
from tests.support import examples
from tests.support.applications import APPLICATION, the_document
from tests.support.shown import documents_in

COMMITTED = Path(__file__).parents[2] / "openapi" / "openapi.json"
DOCUMENT: dict[str, Any] = the_document()
OPERATIONS = {
    operation["operationId"]: (method.upper(), path, operation)
    for path, methods in DOCUMENT["paths"].items()
    for method, operation in methods.items()
}
"""By name: (method, path, what the document says of it)."""
NAMES = {
    "grade": examples.GRADE,
    "revision": "1",
    "key": examples.KEY,
    "lot": examples.LOT,
    "batch": examples.BATCH,
    "verdict": "1",
    "characteristic": examples.CHARACTERISTIC,
    "instrument": examples.INSTRUMENT,
    "line": examples.LINE,
    "claim": examples.CLAIM_NAME,
    "concession": examples.CONCESSION_NAME,
}
READING = {"characteristic": "breaking_force", "unit": "N", "value": 1432.5}


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
    assert COMMITTED.read_text() == written(APPLICATION)


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
    names = [each["operationId"] for methods in DOCUMENT["paths"].values() for each in methods.values()]

    assert sorted(set(names)) == sorted(names)


@pytest.mark.parametrize("name", OPERATIONS)
def test_every_answer_has_a_schema_and_an_example_that_fits_it(name: str) -> None:
    """But for those that have no body."""
    operation = OPERATIONS[name][2]
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


@pytest.mark.parametrize("name", [name for name, (_, _, operation) in OPERATIONS.items() if "requestBody" in operation])
def test_what_we_read_is_closed(name: str) -> None:
    """A field that nobody reads is refused, and the document says so."""
    body = OPERATIONS[name][2]["requestBody"]["content"]["application/json"]["schema"]

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


@pytest.mark.parametrize("name", OPERATIONS)
async def test_every_example_is_answered_as_documented(released: httpx.AsyncClient, name: str) -> None:
    """Sent as it stands, to a service that has the example's grade released."""
    method, path, operation = OPERATIONS[name]
    content = operation.get("requestBody", {}).get("content", {}).get("application/json", {"examples": {"": {"value": None}}})
    headers = {"if-match": "*"} if any("$ref" in each for each in operation.get("parameters", ())) else {}
    bodies = [example["value"] for example in content["examples"].values()]
    for body in bodies:
        sent = {} if body is None else {"json": body}
        answer = await released.request(method, path.format(**NAMES), headers=headers, **sent)
        stated = resolved(operation["responses"][str(answer.status_code)])
        media_type = answer.headers.get("content-type", "").partition(";")[0]
        assert "x-request-id" in answer.headers
        for said in documents_in(media_type, answer.content) if answer.content else ():
            check(said, stated["content"][media_type]["schema"])


@pytest.mark.parametrize(
    "path", ["/v1/checks", "/v1/verdicts", "/v1/draws", "/v1/gradings", "/v1/sampling-plans", "/v1/reviews"]
)
async def test_what_judges_answers_exactly_what_the_document_shows(released: httpx.AsyncClient, path: str) -> None:
    """The examples are what an integrator compares with."""
    lot = f"/v1/lots/{examples.LOT}"
    await released.put(lot, json=examples.OPENING)
    await released.post(f"{lot}/readings", json=examples.READINGS)
    operation = DOCUMENT["paths"][path]["post"]
    asked = {name: example for _, name, example in content_of(operation["requestBody"])}
    answered = {name: (await released.post(path, json=example)).json() for name, example in asked.items()}

    assert {name: example for _, name, example in content_of(operation["responses"]["200"])} == answered


def test_the_page_says_first_that_a_breaking_force_is_no_working_load() -> None:
    """Whoever reads a force there must read it, too."""
    page = (Path(__file__).parents[2] / "service" / "api" / "pages" / "docs" / "index.html").read_text()

    assert "A breaking force is not a working load." in page
    assert "style=" not in page
    assert "<script>" not in page
