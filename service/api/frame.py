"""What holds for every answer, whatever becomes of the request: one thin ASGI application around all others."""

import secrets
from collections.abc import Awaitable, Callable, Sequence
from contextlib import AbstractAsyncContextManager
from itertools import count
from time import perf_counter
from typing import Any, NamedTuple, Protocol

from service.api.admission import admitted, known_to_be_good
from service.api.bodies import Bodies
from service.api.exchanges import NO_NAMES, Exchange
from service.api.gate import LONG, Gate
from service.api.heads import Heads
from service.api.hosts import Hosts
from service.api.log_lines import LinesInGroups
from service.api.messages import Gone, Receive, Send
from service.api.problems import TOO_LARGE, Answer, RefusalError, problem, refusal_of
from service.api.rates import Rates
from service.api.requests import Request, read_query
from service.api.routing import NOWHERE, Route, Router
from service.api.service import Service
from service.api.streaming import Stream
from service.api.watching import Watch
from service.usecases.catalogue import check_there

Scope = dict[str, Any]


class Application(Protocol):
    """An ASGI application that says what it needs while it runs."""

    def __call__(self, scope: Any, receive: Any, send: Any, /) -> Awaitable[None]:  # noqa: ANN401  each server has its own types
        """Answer one request, or live through the life span."""

    @property
    def lifespan(self) -> Callable[[], AbstractAsyncContextManager[None]]:
        """What is needed while it runs."""


NO_PATH = (
    "There is no such path. See /openapi.json for those that there are; a grade's code in it has letters, digits, `.`, `_` and "
    "`-`, a letter or a digit first, at most 64."
)
HANGING_UP = (b"connection", b"close")
"""Tells a client that its next request goes over another connection, so perhaps to another replica."""


class Bounds(NamedTuple):
    """What a request may be at most."""

    hosts: Sequence[str] = ()
    """Names that requests may come under besides those of the loopback interface, without a port."""
    most_bytes: int = 16 * 1024 * 1024
    """Of a body."""
    body_seconds: float = 10
    """In which a body must come."""
    leaving_seconds: float = 1
    """For which requests are still taken after the signal to stop."""
    most_in_flight: int = 256
    """Requests that are answered at a time."""
    most_a_second: int | None = None
    """Requests of one caller; None for as many as he likes."""
    is_encrypted: bool = False
    """True where TLS is spoken."""


EXCHANGE = "markeryarn.exchange"
"""Where the frame leaves the exchange in the scope for the handler that Litestar finds."""


class Frame:
    """An ASGI application that lets through what it may, and answers all else itself."""

    def __init__(self, router: Router, inner: Application, bounds: Bounds, use: Service, watch: Watch) -> None:
        """Frame an application.

        router   finds the route of a request
        inner    the application that takes the life span, and the requests of routes that are not `hot`
        use      what handlers are given to work with
        watch    counts and logs what is answered
        """
        self.is_stopping = False
        """True from the signal to stop on."""
        self._router, self._inner, self._bounds, self._use, self._watch = router, inner, bounds, use, watch
        self._hosts, self._heads = Hosts(bounds.hosts), Heads(is_encrypted=bounds.is_encrypted)
        self._bodies = Bodies(bounds.most_bytes, bounds.body_seconds)
        self._gate = Gate(bounds.most_in_flight)
        self._uncrowded = self._gate.most_of_bulk
        self._rates = Rates(bounds.most_a_second) if bounds.most_a_second else None
        # An id by RFC 9562, version 8: 72 random bits of this process, then a number.
        self._prefix = f"{secrets.token_hex(4)}-{secrets.token_hex(2)}-8{secrets.token_hex(2)[1:]}-8{secrets.token_hex(2)[1:]}-"
        self._numbers = count()

    @property
    def leaving_seconds(self) -> float:
        """For which requests are still taken after the signal to stop."""
        return self._bounds.leaving_seconds

    def log_to(self, lines: LinesInGroups) -> None:
        """Tell of each request there."""
        self._watch.log.open(lines)

    def answers_to(self, name: str) -> None:
        """Take requests under this name of a host too."""
        self._hosts.add(name)

    @property
    def asks_for_keys(self) -> bool | None:
        """Whether a key is asked for by now; None where the database has not been there to say."""
        return not self._use.keyring.is_open if self._use.keyring.is_known else None

    def running(self) -> AbstractAsyncContextManager[None]:
        """What is needed from before the first request until after the last; for a server without a life span of its own."""
        return self._inner.lifespan()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request, or hand the life span on."""
        if scope["type"] != "http":
            await self._inner(scope, receive, send)
            return
        request_id = f"{self._prefix}{next(self._numbers):012x}"
        exchange = Exchange(request_id, NOWHERE, scope["method"], dict(scope["headers"]), perf_counter())
        watch = self._watch
        watch.in_flight += 1
        try:
            exchange.route = self._route(scope, exchange)
        except RefusalError as error:
            await self._send(send, problem(error.kind, error.detail, request_id, headers=error.headers), exchange)
        else:
            if exchange.route.is_hot:
                await self.carry(exchange, scope, receive, send)
            else:
                await self._inner(scope | {EXCHANGE: exchange, "method": exchange.route.method}, receive, send)
        finally:
            watch.in_flight -= 1

    def _route(self, scope: Scope, exchange: Exchange) -> Route:
        """The route of a request for a host, a path and a method that are known here. Raises RefusalError."""
        host = exchange.headers.get(b"host")
        if host not in self._hosts.remembered:
            self._check_host(host, scope)
        path, method = scope["path"], exchange.method
        methods = self._router.fixed.get(path)
        if methods is None:
            found = self._router.find(path)
            if found is None:
                raise RefusalError("not-found", NO_PATH)
            methods, exchange.names = found
        route = methods.get("GET" if method == "HEAD" else method)
        if route is None:
            raise self._router.refusal(methods, method)
        return route

    def _check_host(self, host: bytes | None, scope: Scope) -> None:
        """Raise RefusalError where the service does not go by this name; HTTP/1.0 may leave the name out."""
        # Granian calls HTTP/1.0 "1", and gives an empty name where there is none.
        is_left_out = not host and scope.get("http_version") in {"1.0", "1"}
        if not is_left_out and not self._hosts.knows(host):
            raise RefusalError("wrong-host", "This service does not go by the name in the header Host. Correct the address.")

    async def carry(self, exchange: Exchange, scope: Scope, receive: Receive, send: Send) -> None:
        """Read the body, let the handler answer, and send the answer or the refusal."""
        fault: Exception | None = None
        try:
            answer = await self._answer(exchange, scope, receive)
        except Gone:
            self._watch.gone(exchange)
            return
        except Exception as error:  # noqa: BLE001  the last resort: every caller gets an answer, and we get the traceback
            answer, fault = refusal_of(error, exchange.request_id) or self._failed(exchange.request_id), error
        if answer.stream:
            await self._stream(answer.stream, answer, exchange, receive, send)
            return
        await self._send(send, answer, exchange, fault)
        if answer.status == TOO_LARGE:
            await self._bodies.pour_away(receive)

    async def _answer(self, exchange: Exchange, scope: Scope, receive: Receive) -> Answer:
        """What the handler answers to who may ask. Raises what a request can be refused by; Gone."""
        route, headers, query_string = exchange.route, exchange.headers, scope["query_string"]
        if self._watch.in_flight > self._uncrowded:
            self._check_room(route)
        by = exchange.by = known_to_be_good(self._use.keyring, headers, route) or await admitted(
            self._use.keyring, headers, route
        )
        if self._rates and not route.is_always_open:
            self._rates.take(by.name)
        path = exchange.names
        # What is not there is told before anything that is wrong with the request.
        if path and not route.makes_grade and (route.takes_body or (query_string and route.is_strict)):
            await check_there(self._use.catalogue, path)
        body = await self._bodies.taken(headers, route, receive) if route.takes_body else b""
        query = read_query(query_string, route.parameters) if query_string and route.is_strict else NO_NAMES
        request = Request(body, headers, path, query, by)
        if len(body) <= LONG:
            return await route.handler(request, self._use)
        async with self._gate.turn():
            return await route.handler(request, self._use)

    def _check_room(self, route: Route) -> None:
        """Raise RefusalError where too much is in flight; who only waits for the rest of a body makes room then."""
        try:
            self._gate.check(route, self._watch.in_flight)
        except RefusalError:
            self._bodies.hurry()
            raise

    @staticmethod
    def _failed(request_id: str) -> Answer:
        """Something went wrong that is no fault of the caller's."""
        text = "Something went wrong here. Try again; if it stays so, give the request's id to whoever runs the service."
        return problem("internal-error", text, request_id)

    async def _send(self, send: Send, answer: Answer, exchange: Exchange, fault: Exception | None = None) -> None:
        """Send the answer with the headers that every answer has, and count it."""
        self._watch.answered(exchange, answer, fault)
        await self._send_head(send, answer, exchange)
        await send({"type": "http.response.body", "body": b"" if exchange.method == "HEAD" else answer.body})

    async def _stream(self, stream: Stream, answer: Answer, exchange: Exchange, receive: Receive, send: Send) -> None:
        """Send an answer a line at a time, and count it at its end."""
        try:
            await self._send_head(send, answer, exchange)
            await stream.send(send, receive, self._bounds.body_seconds)
        except Gone:
            self._watch.gone(exchange)
        except Exception as error:  # noqa: BLE001  its status is sent, so that it is told in the log and the figures alone
            self._watch.answered(exchange, self._failed(exchange.request_id), error)
        else:
            self._watch.answered(exchange, answer)

    async def _send_head(self, send: Send, answer: Answer, exchange: Exchange) -> None:
        """Send the headers that every answer has, and its own."""
        headers = self._heads.of(answer, exchange.request_id)
        if self._rates and not exchange.route.is_always_open:
            headers += self._rates.fields(exchange.by.name)
        if self.is_stopping:
            headers.append(HANGING_UP)
        await send({"type": "http.response.start", "status": answer.status, "headers": headers})
