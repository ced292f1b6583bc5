"""Generate the OpenAPI 3.1 document: Litestar's own, completed from the declarations of the operations."""

import json
from collections.abc import Iterator, Mapping
from functools import lru_cache
from typing import Any

from litestar import Litestar, Router
from litestar.handlers import HTTPRouteHandler
from litestar.openapi.config import OpenAPIConfig
from litestar.openapi.spec import Operation as OpenApiOperation
from litestar.openapi.spec import PathItem, Schema, Server, Tag
from litestar.plugins import OpenAPISchemaPlugin
from litestar.routes import BaseRoute, HTTPRoute
from litestar.typing import FieldDefinition
from msgspec import Struct

from service.api.document.completing import complete_operation
from service.api.document.components import CAUTION, HEADER_PARAMETERS, HEADERS, KEY, TAGS, Json, header, problem
from service.api.document.links import links
from service.api.document.schemas import components_of
from service.api.operations import operation_of
from service.api.parameters import parameters_of
from service.api.problems import KINDS, Problem

METHODS = ("get", "put", "post")


class NoSchemaRouter(Router):
    """A router without routes: Litestar would serve its incomplete document and pages under a second path."""

    def register(self, value: Any) -> list[BaseRoute]:  # as Litestar types it
        """Register nothing."""
        return []


class DocumentsByMsgspec(OpenAPISchemaPlugin):
    """Keeps Structs out of Litestar's schemas: msgspec generates theirs, with every bound that it checks itself."""

    @staticmethod
    def is_plugin_supported_type(value: Any) -> bool:  # as Litestar types it
        """Whether the type is a Struct."""
        return isinstance(value, type) and issubclass(value, Struct)

    def is_plugin_supported_field(self, field_definition: FieldDefinition) -> bool:
        """Whether the annotation is a Struct."""
        return self.is_plugin_supported_type(field_definition.annotation)

    def to_openapi_schema(self, field_definition: FieldDefinition, schema_creator: Any) -> Schema:
        """An empty schema; `complete_operation` replaces it."""
        return Schema()


def config() -> OpenAPIConfig:
    """Litestar's configuration of the document: title, version, caution, tags."""
    return OpenAPIConfig(
        title="Marker Yarn",
        version="1.0.0",
        summary="Judges lots of cordage against the grades that they are sold as, exactly and with reasons.",
        description=CAUTION,
        servers=[Server(url="/")],
        tags=[Tag(name=name, description=text) for name, text in TAGS.items()],
        openapi_router=NoSchemaRouter("/schema", route_handlers=[]),
    )


def document(application: Litestar) -> Json:
    """The whole document as JSON values; the same application always gives the same."""
    # From the routes of the application rather than a list beside it: what is served and what is documented can't differ.
    shown = handlers_of(application)
    schemas = components_of([*(type_ for handler in shown.values() for type_ in _types_of(handler)), Problem])
    generated = application.openapi_schema
    for operation in _operations_in(generated.paths or {}):
        handler = shown[str(operation.operation_id)]
        complete_operation(operation, operation_of(handler), parameters_of(handler), schemas)
    return {**generated.to_schema(), "components": _components(schemas.components)}


@lru_cache(1)
def written(application: Litestar) -> str:
    """The document as text, exactly as committed in openapi/openapi.json; generated at the first call."""
    return json.dumps(document(application), indent=2, ensure_ascii=False) + "\n"


def handlers_of(application: Litestar) -> Mapping[str, HTTPRouteHandler]:
    """The handlers of all operations in the document, by operation name."""
    routes = [route for route in application.routes if isinstance(route, HTTPRoute)]
    named = ((operation_of(handler), handler) for route in routes for handler in route.route_handlers)
    return {operation.name: handler for operation, handler in named if operation.in_document}


def _types_of(handler: HTTPRouteHandler) -> Iterator[Any]:
    """The types of a handler's body, answers and query parameters."""
    operation = operation_of(handler)
    if operation.body is not None:
        yield operation.body
    yield from (reply.of for reply in operation.replies if reply.of is not None)
    yield from (parameter.type for parameter in parameters_of(handler))


def _operations_in(paths: Mapping[str, PathItem]) -> Iterator[OpenApiOperation]:
    found = (getattr(item, method) for item in paths.values() for method in METHODS)
    yield from (operation for operation in found if operation is not None)


def _components(schemas: Json) -> Json:
    return {
        "schemas": schemas,
        "responses": {kind: problem(kind) for kind in KINDS},
        "headers": {name: header(name) for name in HEADERS},
        "parameters": dict(HEADER_PARAMETERS),
        "links": links(),
        "securitySchemes": {"key": KEY},
    }
