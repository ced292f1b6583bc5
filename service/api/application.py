"""The application that a server runs: the frame, and Litestar with the table's routes in it."""

from collections.abc import Callable, Sequence
from contextlib import AbstractAsyncContextManager
from functools import partial
from typing import Any, cast

from litestar import Litestar
from litestar.enums import HttpMethod
from litestar.handlers import HTTPRouteHandler
from litestar.types import ASGIApp, Scope

from service.api.exchanges import Exchange
from service.api.frame import EXCHANGE, Bounds, Frame
from service.api.routing import Route, Router
from service.api.service import Service
from service.api.watching import Watch

Lifespan = Callable[[], AbstractAsyncContextManager[None]]


def framed(routes: Sequence[Route], service: Service, bounds: Bounds, lifespan: Lifespan, watch: Watch) -> Frame:
    """The whole application.

    lifespan  what is started before the first request and stopped after the last
    watch     counts and logs what is answered
    """
    inner = _Inner(lifespan)
    frame = Frame(Router(routes), inner, bounds, service, watch)
    handlers = [_handler(route, frame) for route in routes if not route.is_hot]
    inner.application = Litestar(handlers, lifespan=[lambda _: lifespan()], openapi_config=None, logging_config=None)
    return frame


class _Inner:
    """Litestar, which is made after the frame that its handlers call."""

    application: Litestar

    def __init__(self, lifespan: Lifespan) -> None:
        # Litestar's own would have to be left in the task that entered it.
        self.lifespan = lifespan

    async def __call__(self, scope: Any, receive: Any, send: Any, /) -> None:  # noqa: ANN401  each server has its own types
        await self.application(scope, receive, send)


def _handler(route: Route, frame: Frame) -> HTTPRouteHandler:
    """Litestar's handler of a route, which leaves the rest to the frame."""

    async def carry(scope: Scope) -> ASGIApp:
        exchange: Exchange = cast("Any", scope)[EXCHANGE]
        return cast("ASGIApp", partial(frame.carry, exchange))

    template = route.path.replace("}", ":str}")
    return HTTPRouteHandler(template, http_method=HttpMethod(route.method), name=route.operation_id)(carry)
