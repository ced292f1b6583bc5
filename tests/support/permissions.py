"""The permission matrix: which scope each operation asks for, as the OpenAPI document says it and as people read it."""

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

METHODS = ("get", "put", "post", "delete", "patch")


class Rule(NamedTuple):
    """An operation and the scope that it asks for; "" where anyone may."""

    method: str
    path: str
    scope: str


def rules(document: Mapping[str, Any]) -> Iterator[Rule]:
    """The rule of each operation of an OpenAPI document. Raises KeyError for one that has none."""
    for path, operations in document["paths"].items():
        for method, operation in operations.items():
            if method in METHODS:
                asked = operation["security"]
                assert not asked or ["key"] == list(asked[0]), f"{method} {path} asks for something else than one key"
                yield Rule(method.upper(), path, asked[0]["key"][0] if asked else "")


def matrix(document: Mapping[str, Any]) -> str:
    """The matrix as a table in Markdown: a row an operation, a column a scope."""
    scopes = document["components"]["securitySchemes"]["key"]["x-scopes"]
    lines = [f"| operation | no key | {' | '.join(scopes)} |", "| --- |" + " --- |" * (len(scopes) + 1)]
    for method, path, scope in rules(document):
        cells = ["yes" if not scope or scope == each else "" for each in scopes]
        lines.append(f"| `{method} {path}` | {' | '.join(['' if scope else 'yes', *cells])} |")
    return "\n".join(lines).replace("|  |", "| |").replace("|  |", "| |")
