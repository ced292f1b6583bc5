"""The application that a server runs: the frame, and Litestar with the table's routes in it."""

from collections import Counter
from collections.abc import Callable, Sequence
from contextlib import AbstractAsyncContextManager
from typing import Any, cast

from litestar import Litestar
from litestar.handlers import ASGIRouteHandler, asgi
from litestar.types import Receive, Scope, Send

from service.api.frame import EXCHANGE, Bounds, Exchange, Frame
from service.api.routing import Route, Router
from service.api.service import Service

Lifespan = Callable[[Litestar], AbstractAsyncContextManager[None]]


def framed(
    routes: Sequence[Route], service: Service, bounds: Bounds, lifespan: Lifespan, answers: Counter[tuple[str, int]]
) -> Frame:
    """The whole application.

    lifespan  what is started before the first request and stopped after the last
    answers   where they are counted, by (operation, status)
    """
    router = Router(routes)
    inner = _Inner()
    frame = Frame(router, inner, bounds, service, answers)
    handlers = [_handler(path, frame) for path, methods in router.by_path.items() if not all(map(_is_hot, methods.values()))]
    inner.application = Litestar(handlers, lifespan=[lifespan], openapi_config=None, logging_config=None)
    return frame


class _Inner:
    """Litestar, which is made after the frame that its handlers call."""

    application: Litestar

    async def __call__(self, scope: Any, receive: Any, send: Any, /) -> None:  # noqa: ANN401  each server has its own types
        await self.application(scope, receive, send)

    def lifespan(self) -> AbstractAsyncContextManager[None]:
        return self.application.lifespan()


def _is_hot(route: Route) -> bool:
    return route.is_hot


def _handler(path: str, frame: Frame) -> ASGIRouteHandler:
    """Litestar's handler of a path, for all its methods."""
    template = path.replace("}", ":str}")

    async def carry(scope: Scope, receive: Receive, send: Send) -> None:
        plain: Any = scope
        exchange: Exchange = plain[EXCHANGE]
        await frame.carry(exchange, plain, cast("Any", receive), cast("Any", send))

    return asgi(template, name=path)(carry)
