"""The OpenAPI 3.1 document, made from the table of routes."""

import json
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

from service.api import claiming_examples, disposing_examples, examples, ledger_examples, line_examples, trend_examples
from service.api.documents import KeyBeginning
from service.api.links import links
from service.api.problems import KINDS, Problem
from service.api.requests import Parameter
from service.api.routing import PLACEHOLDERS, Body, Example, Reply, Route
from service.api.schemas import components_of
from service.engine.ledger.documents import VerdictNumber
from service.engine.texts import Code, Name, RevisionNumber
from service.ports import Scope

Json = dict[str, Any]
SchemaOf = Callable[[Any], Json]

CAUTION = (
    "A breaking force is not a working load: the working load is the user's to set, with the design factor that the local code "
    "and a competent person require. A verdict is on the specimens tested and is no certificate."
)
TAGS: Mapping[str, str] = {
    "judging": "Ask whether a reading is in, whether a lot conforms, whether a specification is sound.",
    "grades": "Write grades, release them, look up which revision is in force.",
    "lots": "Collect what is measured of a lot, see where it stands, close it, and say what is done with it.",
    "instruments": "What lots are measured with: until when each is calibrated, and how uncertain its readings are.",
    "vocabularies": "The names and units that documents may use.",
    "keys": "Who may do what.",
    "service": "The service itself: its document, its health, its figures.",
}
OF_EVERY_ROUTE = ("wrong-host", "internal-error")
OF_A_BODY = ("not-json", "body-not-in-time", "body-too-large", "not-json-by-type", "flawed")
HEADERS: Mapping[str, tuple[str, Json, str | int]] = {
    "X-Request-Id": (
        "The id of the request; problem details have it as `instance`.",
        {"type": "string", "format": "uuid"},
        "050e3117-58cc-895c-8f8e-00000000000e",
    ),
    "ETag": ("The digest of the specification, in quotation marks.", {"type": "string"}, f'"{examples.DIGEST}"'),
    "Location": ("Where it is.", {"type": "string", "format": "uri-reference"}, "/v1/grades/TB-130/revisions/1"),
    "Allow": ("The methods that the path takes.", {"type": "string"}, "GET, HEAD, OPTIONS"),
    "WWW-Authenticate": (
        "How to show a key (RFC 6750).",
        {"type": "string"},
        'Bearer realm="markeryarn", error="insufficient_scope", scope="release"',
    ),
    "Retry-After": ("Seconds after which to ask again.", {"type": "integer", "minimum": 0}, 1),
    "RateLimit-Policy": (
        "How many requests a caller may send (`q`) in so many seconds (`w`); only where the service is set to count them.",
        {"type": "string"},
        '"key";q=100;w=1',
    ),
    "RateLimit": (
        "How many of them are left (`r`), and after how many seconds all are there again (`t`).",
        {"type": "string"},
        '"key";r=0;t=1',
    ),
    "X-Catalogue-Stale": (
        "`true` while the database is away and the answer rests on what was known before; else left out.",
        {"type": "string", "enum": ["true"]},
        "true",
    ),
}
OF_KINDS: Mapping[str, Sequence[str]] = {
    "method-not-allowed": ["Allow"],
    "not-ready": ["Retry-After"],
    "too-busy": ["Retry-After"],
    "too-many-requests": ["Retry-After", "RateLimit-Policy", "RateLimit"],
    "key-missing": ["WWW-Authenticate"],
    "key-not-known": ["WWW-Authenticate"],
    "scope-lacking": ["WWW-Authenticate"],
}
KEY: Json = {
    "type": "http",
    "scheme": "bearer",
    "description": "The key that `markeryarn key add` has printed. As long as there has never been one, none is asked for.",
    "x-scopes": list(Scope),
}
HEADER_PARAMETERS: Mapping[str, Json] = {
    "If-Match": {
        "name": "If-Match",
        "in": "header",
        "description": "The ETag of the specification that was read, in quotation marks, or `*`.",
        "schema": {"type": "string"},
        "example": "*",
    },
    "If-None-Match": {
        "name": "If-None-Match",
        "in": "header",
        "description": "An ETag that is held already; 304 if it is still the one.",
        "schema": {"type": "string"},
        "example": f'"{examples.DIGEST}"',
    },
}
PATH_PARAMETERS: Mapping[str, tuple[Any, str, str | int]] = {
    "grade": (Code, "The code of a grade; case matters.", examples.GRADE),
    "revision": (RevisionNumber, "The number of a revision, from 1.", 1),
    "key": (KeyBeginning, "The beginning by which a key is recognised.", examples.KEY),
    "lot": (Code, "The id of a lot; case matters.", ledger_examples.LOT),
    "characteristic": (Name, "A characteristic of the grade.", trend_examples.CHARACTERISTIC),
    "batch": (Code, "The id of a batch of the lot.", ledger_examples.BATCH),
    "verdict": (VerdictNumber, "The number of a verdict of the lot, from 1.", 1),
    "claim": (Code, "The name of a claim on the lot.", claiming_examples.NAME),
    "concession": (Code, "The name of a concession for the lot.", disposing_examples.GRANTED["concession"]),
    "line": (Code, "A line, or a supplier; case matters.", line_examples.LINE),
    "instrument": (Code, "The id of an instrument; case matters.", ledger_examples.INSTRUMENT),
}


def document(routes: Iterable[Route]) -> Json:
    """The whole document; the same routes give the same document."""
    shown = [route for route in routes if route.in_document]
    types = [each for route in shown for each in _types_of(route)] + [Problem]
    schemas = components_of(types)
    paths: dict[str, Json] = {}
    for route in shown:
        paths.setdefault(route.path, {})[route.method.lower()] = _operation(route, schemas.of)
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "Marker Yarn",
            "version": "1.0.0",
            "summary": "Judges lots of cordage against the grades that they are sold as, exactly and with reasons.",
            "description": CAUTION,
        },
        "servers": [{"url": "/"}],
        "tags": [{"name": name, "description": text} for name, text in TAGS.items()],
        "paths": paths,
        "components": {
            "schemas": schemas.components,
            "responses": {kind: _problem(kind) for kind in KINDS},
            "headers": {name: _header(name) for name in HEADERS},
            "parameters": dict(HEADER_PARAMETERS),
            "links": links(),
            "securitySchemes": {"key": KEY},
        },
    }


def written(routes: Iterable[Route]) -> str:
    """The document as it is committed."""
    return json.dumps(document(routes), indent=2, ensure_ascii=False) + "\n"


def _types_of(route: Route) -> Iterable[Any]:
    """The types of all documents that a route takes and answers, and of its parameters."""
    if route.body:
        yield route.body.of
    yield from (reply.of for reply in route.replies if reply.of)
    yield from (parameter.of for parameter in route.parameters)
    yield from (PATH_PARAMETERS[name][0] for name in _placeholders(route.path))


def _placeholders(path: str) -> list[str]:
    return [name for name in re.findall(r"\{(\w+)\}", path) if name in PATH_PARAMETERS and name in PLACEHOLDERS]


def _operation(route: Route, schema_of: SchemaOf) -> Json:
    """One operation."""
    made: Json = {
        "operationId": route.operation_id,
        "tags": [route.tag],
        "summary": route.summary,
        "description": route.description,
    }
    parameters = [_path_parameter(name, schema_of) for name in _placeholders(route.path)]
    parameters += [_query_parameter(each, schema_of) for each in route.parameters]
    parameters += [{"$ref": f"#/components/parameters/{name}"} for name in route.headers]
    if parameters:
        made["parameters"] = parameters
    if route.body:
        made["requestBody"] = _request_body(route.body, schema_of)
    made["responses"] = _responses(route, schema_of)
    # Without one, too: as long as there has never been a key none is asked for.
    made["security"] = [{"key": [route.scope]}, {}] if route.scope else []
    return made


def _path_parameter(name: str, schema_of: SchemaOf) -> Json:
    of, description, example = PATH_PARAMETERS[name]
    return {
        "name": name,
        "in": "path",
        "required": True,
        "description": description,
        "schema": schema_of(of),
        "example": example,
    }


def _query_parameter(parameter: Parameter, schema_of: SchemaOf) -> Json:
    return {
        "name": parameter.name,
        "in": "query",
        "description": parameter.description,
        "schema": schema_of(parameter.of),
        "example": parameter.example,
    }


def _request_body(body: Body, schema_of: SchemaOf) -> Json:
    schema = schema_of(body.of)
    if body.any_json:
        schema = {"anyOf": [schema, {"description": "Any other JSON; its flaws are the answer."}]}
    content = {"schema": schema, "examples": _examples(body.examples)}
    texts = {
        name: {"schema": {"type": "string"}, "examples": {"rows": {"value": example}}} for name, example in body.texts.items()
    }
    return {"required": True, "content": {"application/json": content, **texts}}


def _examples(shown: Sequence[Example]) -> Json:
    return {each.name: {"value": each.document} for each in shown}


def _responses(route: Route, schema_of: SchemaOf) -> Json:
    """All answers of a route, by status. Of two kinds of problem with one status the first is shown."""
    made = {str(reply.status): _reply(reply, schema_of) for reply in route.replies}
    of_a_key = ("key-missing", "scope-lacking") if route.scope else ()
    kinds = (*route.refusals, *of_a_key, *(OF_A_BODY if route.body else ()), *OF_EVERY_ROUTE)
    if not route.is_always_open:
        kinds = (*kinds, "too-many-requests", "too-busy")
    if route.is_strict and "flawed" not in kinds:
        kinds = (*kinds, "flawed")
    for kind in kinds:
        made.setdefault(str(KINDS[kind].status), {"$ref": f"#/components/responses/{kind}"})
    return dict(sorted(made.items()))


def _reply(reply: Reply, schema_of: SchemaOf) -> Json:
    headers = {name: {"$ref": f"#/components/headers/{name}"} for name in ("X-Request-Id", *reply.headers)}
    made: Json = {"description": reply.description, "headers": headers}
    if reply.of:
        made["content"] = {reply.media_type: {"schema": schema_of(reply.of), "examples": _examples(reply.examples)}}
    if reply.links:
        made["links"] = {name: {"$ref": f"#/components/links/{name}"} for name in reply.links}
    return made


def _header(name: str) -> Json:
    description, schema, example = HEADERS[name]
    return {"description": description, "schema": schema, "example": example}


def _problem(kind: str) -> Json:
    """A refusal of one kind, with an example."""
    status, title = KINDS[kind]
    shown: Json = {
        "type": f"/problems/{kind}",
        "title": title,
        "status": status,
        "detail": f"{title}.",
        "instance": "urn:uuid:050e3117-58cc-895c-8f8e-00000000000e",
    }
    if kind == "flawed":
        text = "`lb` is a unit of mass and breaking_force is a force. Write `lbf`."
        shown |= {"detail": text, "flaws": [{"code": "unit-of-other-quantity", "text": text, "at": "/unit"}]}
    names = ("X-Request-Id", *OF_KINDS.get(kind, ()))
    return {
        "description": f"{title}.",
        "headers": {name: {"$ref": f"#/components/headers/{name}"} for name in names},
        "content": {
            "application/problem+json": {
                "schema": {"$ref": "#/components/schemas/Problem"},
                "examples": {kind: {"value": shown}},
            }
        },
    }
