"""Litestar's decorators for GET, POST and PUT, with handlers that cache what does not change between requests.

Litestar 2.25 copies the handler for every guard and resolves the exception handlers anew, at each request: a seventh of the
time of a check. Where a later version doesn't, its own decorators can replace this module.
"""

from typing import Any, Self

from litestar import HttpMethod
from litestar.handlers import HTTPRouteHandler
from litestar.types import ExceptionHandlersMap


class CachedHandler(HTTPRouteHandler):
    """A handler that is never copied and resolves its exception handlers once; no handler changes after the start."""

    _cached_exception_handlers: "ExceptionHandlersMap | None" = None

    def __copy__(self) -> Self:
        """The handler itself, as no guard of this service changes it."""
        return self

    def resolve_exception_handlers(self) -> ExceptionHandlersMap:
        """The handlers that the application and the controller declare, cached after the first request."""
        if self._cached_exception_handlers is None:
            self._cached_exception_handlers = super().resolve_exception_handlers()
        return self._cached_exception_handlers


def get(path: str | None = None, **options: Any) -> CachedHandler:  # all that Litestar's own takes
    """A GET operation; HEAD is answered as GET without the body."""
    return CachedHandler(path, http_method=HttpMethod.GET, **options)


def post(path: str | None = None, **options: Any) -> CachedHandler:
    """A POST operation."""
    return CachedHandler(path, http_method=HttpMethod.POST, **options)


def put(path: str | None = None, **options: Any) -> CachedHandler:
    """A PUT operation."""
    return CachedHandler(path, http_method=HttpMethod.PUT, **options)
