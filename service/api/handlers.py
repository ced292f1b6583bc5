"""Litestar's decorators, whose handlers find out once what stays the same from request to request.

Litestar 2.25 gives every guard a copy of its handler and asks anew who handles exceptions, at each request: a seventh of a
check. Where a later one doesn't, its own decorators will do.
"""

from typing import Any, Self

from litestar import HttpMethod
from litestar.handlers import HTTPRouteHandler
from litestar.types import ExceptionHandlersMap


class CachedHandler(HTTPRouteHandler):
    """Nothing of a handler changes after the start."""

    _found_out: "ExceptionHandlersMap | None" = None

    def __copy__(self) -> Self:
        """Itself, as no guard of ours changes it."""
        return self

    def resolve_exception_handlers(self) -> ExceptionHandlersMap:
        """As the application and its controllers say."""
        if self._found_out is None:
            self._found_out = super().resolve_exception_handlers()
        return self._found_out


def get(path: str | None = None, **given: Any) -> CachedHandler:  # all that Litestar's own takes
    """An operation by GET; HEAD is answered as GET without the body."""
    return CachedHandler(path, http_method=HttpMethod.GET, **given)


def post(path: str | None = None, **given: Any) -> CachedHandler:
    """An operation by POST."""
    return CachedHandler(path, http_method=HttpMethod.POST, **given)


def put(path: str | None = None, **given: Any) -> CachedHandler:
    """An operation by PUT."""
    return CachedHandler(path, http_method=HttpMethod.PUT, **given)
