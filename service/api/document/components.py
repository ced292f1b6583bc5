"""Hand-written components of the OpenAPI document: headers, refusals, the security scheme."""

from collections.abc import Mapping, Sequence
from typing import Any

from service.api.problems import KINDS
from service.ports.catalogue import Scope

Json = dict[str, Any]
DIGEST = "sha256:55df0aa8ce70dbf4fbe776c2ccd38a64b14745210311717b5cf5d11d342bac57"
"""Digest of the specification in the examples, `openapi/examples/specification.json`."""
CAUTION = (
    "A breaking force is not a working load: the working load is the user's to set, with the design factor that the local code "
    "and a competent person require. A verdict is on the specimens tested and is no certificate."
)
TAGS: Mapping[str, str] = {
    "judging": "Check a reading against its limits, judge a lot, review a specification.",
    "grades": "Write grades, release them, look up which revision is in force.",
    "lots": "Record the readings of a lot, follow its requirements, close it, and dispose of it.",
    "instruments": "What lots are measured with: until when each is calibrated, and the uncertainty of its readings.",
    "vocabularies": "The names and units that documents may use.",
    "keys": "Who may do what.",
    "service": "The service itself: its document, its health, its figures.",
}
OF_EVERY_ROUTE = ("head-not-clear", "wrong-host", "internal-error")
OF_A_BODY = ("not-json", "body-not-in-time", "body-too-large", "not-json-by-type", "flawed")
HEADERS: Mapping[str, tuple[str, Json, str | int]] = {
    "X-Request-Id": (
        "The id of the request; problem details have it as `instance`.",
        {"type": "string", "format": "uuid"},
        "050e3117-58cc-895c-8f8e-00000000000e",
    ),
    "ETag": ("The digest of the specification, in quotation marks.", {"type": "string"}, f'"{DIGEST}"'),
    "Location": (
        "The path of what was created.",
        {"type": "string", "format": "uri-reference"},
        "/v1/grades/TB-130/revisions/1",
    ),
    "Allow": ("The methods that the path takes.", {"type": "string"}, "GET, HEAD, OPTIONS"),
    "WWW-Authenticate": (
        "How to send a key (RFC 6750).",
        {"type": "string"},
        'Bearer realm="markeryarn", error="insufficient_scope", scope="release"',
    ),
    "Retry-After": ("Seconds after which to ask again.", {"type": "integer", "minimum": 0}, 1),
    "RateLimit-Policy": (
        "How many requests a caller may send (`q`) in how many seconds (`w`); only where a rate limit is set.",
        {"type": "string"},
        '"key";q=100;w=1',
    ),
    "RateLimit": (
        "How many of them are left (`r`), and after how many seconds all are available again (`t`).",
        {"type": "string"},
        '"key";r=0;t=1',
    ),
    "X-Catalogue-Stale": (
        "`true` while the database does not answer and the grade is taken from memory; otherwise left out.",
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
    "description": "The key that `markeryarn key add` has printed. As long as the service has never had a key, none is needed.",
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
        "description": "The ETag of the document that the caller has; 304 if it is still the same.",
        "schema": {"type": "string"},
        "example": f'"{DIGEST}"',
    },
}


def header(name: str) -> Json:
    """The header component of this name, with an example."""
    description, schema, example = HEADERS[name]
    return {"description": description, "schema": schema, "example": example}


def problem(kind: str) -> Json:
    """The response component for a kind of refusal, with an example."""
    status, title = KINDS[kind]
    shown: Json = {
        "type": f"/problems/{kind}",
        "title": title,
        "status": status,
        "detail": f"{title}.",
        "instance": "urn:uuid:050e3117-58cc-895c-8f8e-00000000000e",
    }
    if kind == "flawed":
        text = "`lb` is a unit of mass and `breaking_force` is a force. Write `lbf`."
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
