"""What the contract says of an operation beside what Litestar learns from its handler."""

from collections.abc import Sequence
from typing import Any

from msgspec import Struct

from service.ports.catalogue import Scope

JSON, NDJSON, CSV, SVG = "application/json", "application/x-ndjson", "text/csv", "image/svg+xml"


class Reply(Struct, frozen=True):
    """One of the answers that are no refusals; its examples stand in `examples.json` beside the resource."""

    status: int
    description: str
    of: Any = None
    """The type of its document; None where it has none."""
    media_type: str = JSON
    headers: Sequence[str] = ()
    """Names of headers in the document's components."""
    links: Sequence[str] = ()
    """Names of links in the document's components."""


class Operation(Struct, frozen=True, kw_only=True):
    """One operation of the contract, under the name by which logs and figures tell of it."""

    name: str
    tag: str
    summary: str
    description: str
    scope: Scope | None
    """What a caller has to be allowed; None where anyone may ask."""
    replies: Sequence[Reply] = ()
    body: Any = None
    """The type of the document that it takes; None where it reads no body."""
    takes_any_json: bool = False
    """True where any JSON is taken and flaws of shape are part of the answer."""
    texts: Sequence[str] = ()
    """Further media types that are taken."""
    refusals: Sequence[str] = ()
    """Kinds of problem besides those that every operation of its sort has."""
    makes_what_it_names: bool = False
    """True where what its path names need not be there yet."""
    is_strict: bool = True
    """False for pages, where a query that nobody reads does no harm."""
    in_document: bool = True
    is_only_counted: bool = False
    """True where an answer that is no refusal leaves no line in the log."""

    @property
    def is_always_open(self) -> bool:
        """True where one sees how the service is doing, most of all when it has much to do."""
        return self.tag == "service"

    @property
    def takes_body(self) -> bool:
        """True where a body is read."""
        return self.body is not None

    def takes(self, content_type: str) -> bool:
        """True where a body of this further media type is taken."""
        return media_type_in(content_type) in self.texts

    def __deepcopy__(self, memo: object) -> "Operation":
        """Itself: Litestar copies what handlers are told of, and nothing of this changes."""
        return self


def media_type_in(content_type: str) -> str:
    """The media type that the header Content-Type names, in small letters; what stands behind it is not looked at."""
    return content_type.partition(";")[0].strip().lower()


NOWHERE = Operation(
    name="none",
    tag="service",
    summary="No operation",
    description="What is asked where there is nothing, or under another host's name, is counted under this.",
    scope=None,
    is_strict=False,
    in_document=False,
)
OPTIONS = Operation(
    name="options",
    tag="service",
    summary="What a path takes",
    description="The methods that the path takes, in the header Allow.",
    scope=None,
    is_strict=False,
    in_document=False,
)
DOCUMENTED = "told"
"""Under which a handler's `opt` has its operation."""


def documented(operation: Operation) -> dict[str, Any]:
    """What a decorator of Litestar is given of an operation."""
    return {
        "operation_id": operation.name,
        "tags": [operation.tag],
        "summary": operation.summary,
        "description": operation.description,
        "security": [{"key": [operation.scope]}, {}] if operation.scope else None,
        "include_in_schema": operation.in_document,
        "status_code": operation.replies[0].status,
        DOCUMENTED: operation,
    }


def operation_of(handler: Any) -> Operation:  # any handler of Litestar's
    """The operation that a handler is; Litestar makes those that answer OPTIONS itself."""
    found: Operation = handler.opt.get(DOCUMENTED, OPTIONS)
    return found
