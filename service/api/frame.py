"""What holds for every answer, whatever becomes of the request: the application that a server runs."""

import secrets
from collections.abc import Awaitable, Callable, Sequence
from contextlib import AbstractAsyncContextManager
from itertools import count
from time import perf_counter
from typing import Any, NamedTuple

from service.api.admission import admitted, known_to_be_good
from service.api.bodies import Bodies
from service.api.exchanges import NO_NAMES, Exchange
from service.api.gate import LONG, Gate
from service.api.heads import Heads
from service.api.hosts import Hosts
from service.api.log_lines import LinesInGroups
from service.api.problems import TOO_LARGE, Answer, RefusalError, problem, refusal_of
from service.api.rates import Rates
from service.api.requests import Request, read_query
from service.api.routing import NOWHERE, Route, Router
from service.api.service import Service
from service.api.streaming import Stream
from service.api.watching import Watch
from service.api.wires import Gone, WholeHead, Wire
from service.api.wires.asgi import AsgiWire, Receive, Send, live
from service.api.wires.rsgi import RsgiWire, Transport
from service.api.wires.rsgi import Scope as RsgiScope
from service.usecases.catalogue import check_there

Scope = dict[str, Any]
Lifespan = Callable[[], AbstractAsyncContextManager[None]]


NO_PATH = (
    "There is no such path. See /openapi.json for those that there are; a grade's code in it has letters, digits, `.`, `_` and "
    "`-`, a letter or a digit first, at most 64."
)
HANGING_UP = ("connection", "close")
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


class Frame:
    """The whole application, by ASGI and by RSGI: lets handlers answer what they may, and refuses all else."""

    def __init__(self, router: Router, lifespan: Lifespan, bounds: Bounds, use: Service, watch: Watch) -> None:
        """Frame what handlers do.

        router    finds the route of a request
        lifespan  what is started before the first request and stopped after the last
        use       what handlers are given to work with
        watch     counts and logs what is answered
        """
        self.is_stopping = False
        """True from the signal to stop on."""
        self._router, self._bounds, self._use, self._watch = router, bounds, use, watch
        self.running = lifespan
        """What is needed from before the first request until after the last; for a server without a life span of its own."""
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

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request, or live through the life span, by ASGI."""
        if scope["type"] == "http":
            await self._reply(AsgiWire(scope, receive, send))
        elif scope["type"] == "lifespan":
            await live(self.running, receive, send)
        else:
            await send({"type": "websocket.close"})

    def __rsgi__(self, scope: RsgiScope, transport: Transport) -> Awaitable[None]:
        """Answer one request by RSGI."""
        return self._reply(RsgiWire(scope, transport))

    async def _reply(self, wire: Wire) -> None:
        """Answer one request."""
        request_id = f"{self._prefix}{next(self._numbers):012x}"
        exchange = Exchange(request_id, NOWHERE, wire.method, wire.headers, perf_counter())
        watch = self._watch
        watch.in_flight += 1
        try:
            exchange.route = self._route(wire, exchange)
        except RefusalError as error:
            await self._send(wire, problem(error.kind, error.detail, request_id, headers=error.headers), exchange)
        else:
            await self._carry(exchange, wire)
        finally:
            watch.in_flight -= 1

    def _route(self, wire: Wire, exchange: Exchange) -> Route:
        """The route of a request for a host, a path and a method that are known here. Raises RefusalError."""
        host = exchange.headers.get("host")
        if host not in self._hosts.remembered:
            self._check_host(host, wire)
        path, method = wire.path, exchange.method
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

    def _check_host(self, host: str | None, wire: Wire) -> None:
        """Raise RefusalError where the service does not go by this name; HTTP/1.0 may leave the name out."""
        # Some servers give an empty name where there is none.
        is_left_out = not host and wire.is_old
        if not is_left_out and not self._hosts.knows(host):
            raise RefusalError("wrong-host", "This service does not go by the name in the header Host. Correct the address.")

    async def _carry(self, exchange: Exchange, wire: Wire) -> None:
        """Read the body, let the handler answer, and send the answer or the refusal."""
        fault: Exception | None = None
        try:
            answer = await self._answer(exchange, wire)
        except Gone:
            self._watch.gone(exchange)
            return
        except Exception as error:  # noqa: BLE001  the last resort: every caller gets an answer, and we get the traceback
            answer, fault = refusal_of(error, exchange.request_id) or self._failed(exchange.request_id), error
        if answer.stream:
            await self._stream(answer.stream, answer, exchange, wire)
            return
        await self._send(wire, answer, exchange, fault)
        if answer.status == TOO_LARGE:
            await self._bodies.pour_away(wire)

    async def _answer(self, exchange: Exchange, wire: Wire) -> Answer:
        """What the handler answers to who may ask. Raises what a request can be refused by; Gone."""
        route, headers, query_string = exchange.route, exchange.headers, wire.query
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
        body = await self._bodies.taken(wire, route) if route.takes_body else b""
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

    async def _send(self, wire: Wire, answer: Answer, exchange: Exchange, fault: Exception | None = None) -> None:
        """Send the answer with the headers that every answer has, and count it."""
        self._watch.answered(exchange, answer, fault)
        body = b"" if exchange.method == "HEAD" else answer.body
        await wire.send(answer.status, self._head(answer, exchange), body)

    async def _stream(self, stream: Stream, answer: Answer, exchange: Exchange, wire: Wire) -> None:
        """Send an answer a line at a time, and count it at its end."""
        try:
            await wire.begin(answer.status, self._head(answer, exchange))
            await stream.send(wire, self._bounds.body_seconds)
        except Gone:
            self._watch.gone(exchange)
        except Exception as error:  # noqa: BLE001  its status is sent, so that it is told in the log and the figures alone
            self._watch.answered(exchange, self._failed(exchange.request_id), error)
        else:
            self._watch.answered(exchange, answer)

    def _head(self, answer: Answer, exchange: Exchange) -> WholeHead:
        """The headers that every answer has, and its own."""
        head = self._heads.of(answer, exchange.request_id)
        if self._rates and not exchange.route.is_always_open:
            head.own.extend(self._rates.fields(exchange.by.name))
        if self.is_stopping:
            head.own.append(HANGING_UP)
        return head
