"""What Litestar's own OpenAPI document lacks of an operation: examples, links, headers, refusals, by its extension points."""

import json
from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from importlib.resources import files
from typing import Any

from litestar.openapi.spec import (
    Example,
    OpenAPIMediaType,
    OpenAPIResponse,
    Parameter,
    Reference,
    RequestBody,
    Schema,
)
from litestar.openapi.spec import Operation as OpenApiOperation

from service.api.document.components import OF_A_BODY, OF_EVERY_ROUTE
from service.api.document.schemas import Schemas
from service.api.operations import JSON, Operation, Reply
from service.api.parameters import Parameter as QueryParameter
from service.api.problems import KINDS

Examples = Mapping[str, Any]
_NO_EXAMPLES: Examples = {}


class MsgspecSchema(Schema):
    """A schema as msgspec has made it."""

    def __init__(self, schema: dict[str, Any]) -> None:
        """Of this JSON."""
        super().__init__()
        self._schema = schema

    def to_schema(self) -> dict[str, Any]:
        """The JSON."""
        return self._schema


def complete_operation(
    operation: OpenApiOperation, documented: Operation, parameters: Sequence[QueryParameter], schemas: Schemas
) -> None:
    """Put in all that is told of the operation."""
    shown = examples().get(documented.name, _NO_EXAMPLES)
    # What is not so is left out.
    operation.deprecated = None  # type: ignore[assignment]
    known = {parameter.name: parameter for parameter in parameters}
    operation.parameters = [_parameter(parameter, known, schemas) for parameter in operation.parameters or ()] or None
    operation.security = operation.security if documented.scope else []
    if documented.body is not None:
        operation.request_body = _body(documented, shown, schemas)
    answers: dict[str, OpenAPIResponse | Reference] = {
        str(reply.status): _reply(reply, shown, schemas) for reply in documented.replies
    }
    # Of two kinds of problem with one status the first is shown.
    for kind in _refusals(documented):
        answers.setdefault(str(KINDS[kind].status), Reference(ref=f"#/components/responses/{kind}"))
    operation.responses = dict(sorted(answers.items()))


@cache
def examples() -> Mapping[str, Examples]:
    """What `examples.json` beside each resource shows, by the name of the operation."""
    found: dict[str, Examples] = {}
    for folder in files("service.api").iterdir():
        file = folder / "examples.json"
        if file.is_file():
            found |= json.loads(file.read_text(encoding="utf-8"))
    return found


def _body(documented: Operation, shown: Examples, schemas: Schemas) -> RequestBody:
    schema: Schema | Reference = MsgspecSchema(schemas.schema_of(documented.body))
    if documented.takes_any_json:
        schema = Schema(any_of=[schema, Schema(description="Any other JSON; its flaws are the answer.")])
    content = {JSON: OpenAPIMediaType(schema=schema, examples=_examples(shown["body"]))}
    for media_type in documented.row_media_types:
        rows: dict[str, Example | Reference] = {"rows": Example(value=shown["texts"][media_type])}
        content[media_type] = OpenAPIMediaType(schema=MsgspecSchema({"type": "string"}), examples=rows)
    return RequestBody(required=True, content=content)


def _reply(reply: Reply, shown: Examples, schemas: Schemas) -> OpenAPIResponse:
    content = None
    if reply.of is not None:
        listed = _examples(shown.get("answers", _NO_EXAMPLES).get(str(reply.status), _NO_EXAMPLES))
        content = {reply.media_type: OpenAPIMediaType(schema=MsgspecSchema(schemas.schema_of(reply.of)), examples=listed)}
    return OpenAPIResponse(
        description=reply.description,
        headers=_references("headers", ("X-Request-Id", *reply.headers)),
        content=content,
        links=_references("links", reply.links) or None,
    )


def _refusals(documented: Operation) -> Iterable[str]:
    of_a_key = ("key-missing", "scope-lacking") if documented.scope else ()
    kinds = (*documented.refusals, *of_a_key, *(OF_A_BODY if documented.takes_body else ()), *OF_EVERY_ROUTE)
    kinds = kinds if documented.is_always_open else (*kinds, "too-many-requests", "too-busy")
    return (*kinds, "flawed") if documented.is_strict else kinds


def _parameter(
    parameter: Parameter | Reference, known: Mapping[str, QueryParameter], schemas: Schemas
) -> Parameter | Reference:
    """Header parameters are components; what is false by default is left out; one example in place of a list."""
    if isinstance(parameter, Reference):
        return parameter
    if parameter.param_in == "header":
        return Reference(ref=f"#/components/parameters/{parameter.name}")
    schema, declared = parameter.schema, known.get(parameter.name)
    assert isinstance(schema, Schema)
    parameter.description = parameter.description or schema.description
    if declared:
        # Litestar loses the bounds of what may be left out.
        parameter.schema, parameter.example = MsgspecSchema(schemas.schema_of(declared.type)), declared.example
    elif schema.examples:
        parameter.example = schema.examples[0]
        schema.description = schema.examples = None
        # Litestar holds bounds as floats.
        schema.minimum, schema.maximum = (each and int(each) for each in (schema.minimum, schema.maximum))
    parameter.required = parameter.required or None  # type: ignore[assignment]
    parameter.deprecated = parameter.allow_empty_value = parameter.allow_reserved = None  # type: ignore[assignment]
    parameter.examples = None
    return parameter


def _examples(shown: Examples) -> dict[str, Example | Reference]:
    return {name: Example(value=document) for name, document in shown.items()}


def _references(kind: str, names: Iterable[str]) -> dict[str, Any]:
    return {name: Reference(ref=f"#/components/{kind}/{name}") for name in names}
