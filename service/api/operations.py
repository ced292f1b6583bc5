"""The declaration of an operation: what the OpenAPI document says of it beyond what Litestar reads from its handler."""

from collections.abc import Sequence
from typing import Any

from msgspec import Struct
from msgspec.structs import fields

from service.ports.catalogue import Scope

JSON, NDJSON, CSV, SVG = "application/json", "application/x-ndjson", "text/csv", "image/svg+xml"


class Reply(Struct, frozen=True):
    """A successful answer of an operation; its examples are in `examples.json` beside the resource."""

    status: int
    description: str
    of: Any = None
    """Type of the answer's document; None for an answer without one."""
    media_type: str = JSON
    headers: Sequence[str] = ()
    """Names of headers in the document's components."""
    links: Sequence[str] = ()
    """Names of links in the document's components."""


class Operation(Struct, frozen=True, kw_only=True):
    """One operation of the API; its name labels it in logs and metrics and is its `operationId`."""

    name: str
    tag: str
    summary: str
    description: str
    scope: Scope | None
    """The scope that the caller's key needs; None where anyone may call."""
    replies: Sequence[Reply] = ()
    body: Any = None
    """Type of the document in the request body; None where no body is read."""
    takes_any_json: bool = False
    """True where any JSON is accepted and flaws of shape are part of the answer."""
    row_media_types: Sequence[str] = ()
    """Further media types of the body, besides JSON: rows of readings."""
    refusals: Sequence[str] = ()
    """Kinds of problem, besides those that follow from scope, body and strictness."""
    creates_what_path_names: bool = False
    """True where what the path names need not exist yet."""
    is_strict: bool = True
    """True where unknown query parameters are refused; False for pages, where they do no harm."""
    in_document: bool = True
    logs_refusals_only: bool = False
    """True where a successful answer is counted but leaves no log line."""

    @property
    def is_always_open(self) -> bool:
        """True for operations that show how the service is doing: never limited, as they matter most under load."""
        return self.tag == "service"

    @property
    def takes_empty_object(self) -> bool:
        """True where `{}` is a whole body, so that callers send none at all."""
        return has_no_required_field(self.body)

    @property
    def takes_body(self) -> bool:
        """True where a request body is read."""
        return self.body is not None

    def takes_rows_as(self, content_type: str) -> bool:
        """True where a body of this Content-Type is accepted as rows."""
        return media_type_of(content_type) in self.row_media_types

    def __deepcopy__(self, memo: object) -> "Operation":
        """The operation itself: Litestar copies a controller's handlers deeply, and an operation is immutable."""
        return self


def has_no_required_field(document: Any) -> bool:  # a Struct, or any other type of a body
    """True for a Struct that `{}` is a whole document of."""
    is_struct = isinstance(document, type) and issubclass(document, Struct)
    return is_struct and not any(field.required for field in fields(document))


def media_type_of(content_type: str) -> str:
    """The media type of a Content-Type header, in lower case; parameters after it are ignored."""
    return content_type.partition(";")[0].strip().lower()


UNROUTED = Operation(
    name="none",
    tag="service",
    summary="No operation",
    description="Requests for a path that does not exist, or for another host, are counted under this.",
    scope=None,
    is_strict=False,
    in_document=False,
)
OPTIONS = Operation(
    name="options",
    tag="service",
    summary="Show the methods of a path",
    description="The methods that the path takes, in the header Allow.",
    scope=None,
    is_strict=False,
    in_document=False,
)
OPERATION_KEY = "operation"
"""The key of a handler's `opt` under which its operation is."""


def documented(operation: Operation) -> dict[str, Any]:
    """The keyword arguments for a Litestar decorator that declare this operation."""
    return {
        "operation_id": operation.name,
        "tags": [operation.tag],
        "summary": operation.summary,
        "description": operation.description,
        # The empty alternative: as long as the database has never had a key, none is needed.
        "security": [{"key": [operation.scope]}, {}] if operation.scope else None,
        "include_in_schema": operation.in_document,
        "status_code": operation.replies[0].status,
        OPERATION_KEY: operation,
    }


def operation_of(handler: Any) -> Operation:  # any handler of Litestar's
    """The operation of a handler; OPTIONS for the handlers that Litestar adds by itself."""
    found: Operation = handler.opt.get(OPERATION_KEY, OPTIONS)
    return found
