"""What holds for every answer, whatever becomes of the request: one thin ASGI application around all others."""

import asyncio
import re
import secrets
from collections.abc import Awaitable, Callable, Mapping, Sequence
from contextlib import AbstractAsyncContextManager, suppress
from itertools import count
from time import perf_counter
from typing import Any, NamedTuple, Protocol

from service.api.admission import admitted
from service.api.exchanges import Exchange
from service.api.gate import LONG, Gate
from service.api.log_lines import LinesInGroups
from service.api.patience import Patience
from service.api.problems import JSON, TOO_LARGE, WITHOUT_BODY, Answer, RefusalError, problem, refusal_of
from service.api.rates import Rates
from service.api.requests import Request, read_query
from service.api.routing import NOWHERE, Route, Router
from service.api.service import Service
from service.api.watching import Watch
from service.usecases.catalogue import check_there

Scope = dict[str, Any]
Message = dict[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]


class Application(Protocol):
    """An ASGI application that says what it needs while it runs."""

    def __call__(self, scope: Any, receive: Any, send: Any, /) -> Awaitable[None]:  # noqa: ANN401  each server has its own types
        """Answer one request, or live through the life span."""

    @property
    def lifespan(self) -> Callable[[], AbstractAsyncContextManager[None]]:
        """What is needed while it runs."""


SECURITY_HEADERS = (
    (b"x-content-type-options", b"nosniff"),
    (
        b"content-security-policy",
        b"default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; base-uri 'none'",
    ),
    (b"referrer-policy", b"no-referrer"),
)
ONLY_ENCRYPTED = (b"strict-transport-security", b"max-age=31536000")
"""Tells a browser to come by https alone, for a year."""
NO_PATH = (
    "There is no such path. See /openapi.json for those that there are; a grade's code in it has letters, digits, `.`, `_` and "
    "`-`, a letter or a digit first, at most 64."
)
LOOPBACK = ("127.0.0.1", "localhost", "[::1]")
_JSON_TYPE = re.compile(rb"application/json\s*(?:;\s*charset\s*=\s*\"?utf-8\"?\s*)?\Z", re.IGNORECASE)
_HOST = re.compile(rb"(\[[0-9a-fA-F:.]+\]|[A-Za-z0-9._-]+)(?::[0-9]{1,5})?\Z")
MOST_HOSTS_REMEMBERED = 64
HANGING_UP = (b"connection", b"close")
"""Tells a client that its next request goes over another connection, so perhaps to another replica."""
MOST_POURED = 256 * 1024 * 1024
"""Of a body that was refused as too large, so many bytes are taken and forgotten before the connection is cut."""


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


NO_NAMES: Mapping[str, str] = {}
EXCHANGE = "markeryarn.exchange"
"""Where the frame leaves the exchange in the scope for the handler that Litestar finds."""


class Gone(Exception):  # noqa: N818  not an error: the caller has hung up
    """Nobody waits for the answer any more."""


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
        self._hosts = {name.lower().encode() for name in (*LOOPBACK, *bounds.hosts)}
        self._always = (*SECURITY_HEADERS, ONLY_ENCRYPTED) if bounds.is_encrypted else SECURITY_HEADERS
        self._remembered: set[bytes] = set()
        self._patience = Patience(bounds.body_seconds)
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
        self._hosts.add(name.lower().encode())

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
        watch = self._watch
        begun = perf_counter()
        request_id = f"{self._prefix}{next(self._numbers):012x}"
        headers = dict(scope["headers"])
        watch.in_flight += 1
        try:
            exchange = self._admit(scope, headers, request_id, begun)
            if exchange.route.is_hot:
                await self.carry(exchange, scope, receive, send)
            else:
                await self._inner(scope | {EXCHANGE: exchange, "method": exchange.route.method}, receive, send)
        except RefusalError as error:
            answer = problem(error.kind, error.detail, request_id, headers=error.headers)
            await self._send(send, answer, Exchange(request_id, NOWHERE, scope["method"], headers, begun))
        finally:
            watch.in_flight -= 1

    def _admit(self, scope: Scope, headers: Mapping[bytes, bytes], request_id: str, begun: float) -> Exchange:
        """The exchange of a request for a host, a path and a method that are known here. Raises RefusalError."""
        host = headers.get(b"host")
        if host not in self._remembered:
            self._check_host(host, scope)
        path, method = scope["path"], scope["method"]
        methods = self._router.methods(path)
        if methods is None:
            raise RefusalError("not-found", NO_PATH)
        route = methods.get("GET" if method == "HEAD" else method)
        if route is None:
            raise self._router.refusal(methods, method)
        return Exchange(request_id, route, method, headers, begun)

    def _check_host(self, host: bytes | None, scope: Scope) -> None:
        """Only names that this service goes by; HTTP/1.0 may leave the name out. Else a page elsewhere could reach in."""
        # Granian calls HTTP/1.0 "1", and gives an empty name where there is none.
        if not host and scope.get("http_version") in {"1.0", "1"}:
            return
        match = _HOST.match(host or b"")
        if not match or match[1].lower() not in self._hosts:
            raise RefusalError("wrong-host", "This service does not go by the name in the header Host. Correct the address.")
        if host is not None and len(self._remembered) < MOST_HOSTS_REMEMBERED:
            self._remembered.add(host)

    async def carry(self, exchange: Exchange, scope: Scope, receive: Receive, send: Send) -> None:
        """Read the body, let the handler answer, and send the answer or the refusal."""
        route, path, query_string = exchange.route, scope.get("path_params") or NO_NAMES, scope["query_string"]
        fault: Exception | None = None
        try:
            if self._watch.in_flight > self._uncrowded:
                self._check_room(route)
            exchange.by = await admitted(self._use.keyring, exchange.headers, route)
            if self._rates and not route.is_always_open:
                self._rates.take(exchange.by.name)
            # What is not there is told before anything that is wrong with the request.
            if path and not route.makes_grade and (route.takes_body or query_string):
                await check_there(self._use.catalogue, path)
            body = await self._body(exchange, receive) if route.takes_body else b""
            query = read_query(query_string, route.parameters) if query_string and route.is_strict else NO_NAMES
            request = Request(body, exchange.headers, path, query, exchange.by)
            if len(body) <= LONG:
                answer = await route.handler(request, self._use)
            else:
                async with self._gate.turn():
                    answer = await route.handler(request, self._use)
        except Gone:
            self._watch.gone(exchange)
            return
        except Exception as error:  # noqa: BLE001  the last resort: every caller gets an answer, and we get the traceback
            answer, fault = refusal_of(error, exchange.request_id) or self._failed(exchange.request_id), error
        await self._send(send, answer, exchange, fault)
        if answer.status == TOO_LARGE:
            await self._pour_away(receive)

    def _check_room(self, route: Route) -> None:
        """Raise RefusalError where too much is in flight; who only waits for the rest of a body makes room then."""
        try:
            self._gate.check(route, self._watch.in_flight)
        except RefusalError:
            self._patience.hurry()
            raise

    async def _body(self, exchange: Exchange, receive: Receive) -> bytes:
        """The whole body. Raises RefusalError where it is too large, not JSON by type, or not here in time."""
        headers = exchange.headers
        length = headers.get(b"content-length", b"0")
        if not length.isdigit() or int(length[:20]) > self._bounds.most_bytes:
            raise self._too_large()
        media_type = headers.get(b"content-type", b"")
        if media_type != JSON and not _JSON_TYPE.match(media_type) and not exchange.route.takes(media_type):
            text = "The body must be sent as JSON in UTF-8. Set the header Content-Type to application/json."
            raise RefusalError("not-json-by-type", text, ((b"accept", b"application/json"),))
        if b"content-encoding" in headers:
            text = "An encoded body is not taken. Send it plain, without the header Content-Encoding."
            raise RefusalError("not-json-by-type", text, ((b"accept-encoding", b"identity"),))
        try:
            with self._patience:
                return await self._received(receive)
        except TimeoutError as error:
            text = (
                f"The body did not come within {self._bounds.body_seconds:g} seconds, or less in a rush. Send it again, whole."
            )
            raise RefusalError("body-not-in-time", text, ((b"connection", b"close"),)) from error

    async def _received(self, receive: Receive) -> bytes:
        """The parts of the body, put together; counted, since a chunked one does not say how long it is."""
        message = await receive()
        body: bytes = message.get("body", b"")
        if message.get("more_body"):
            parts = [body]
            total = len(body)
            while message.get("more_body") and total <= self._bounds.most_bytes:
                message = await receive()
                parts.append(message.get("body", b""))
                total += len(parts[-1])
            body = b"".join(parts)
        if message["type"] == "http.disconnect":
            raise Gone
        if len(body) > self._bounds.most_bytes:
            raise self._too_large()
        return body

    async def _pour_away(self, receive: Receive) -> None:
        """Take what still comes of a body that was refused: many clients look for the answer only after they have sent all."""
        poured = 0
        with suppress(TimeoutError):
            async with asyncio.timeout(self._bounds.body_seconds):
                while poured < MOST_POURED:
                    message = await receive()
                    poured += len(message.get("body", b""))
                    if not message.get("more_body"):
                        return

    def _too_large(self) -> RefusalError:
        text = f"A body may have at most {self._bounds.most_bytes} bytes. Send less at a time."
        return RefusalError("body-too-large", text, ((b"connection", b"close"),))

    @staticmethod
    def _failed(request_id: str) -> Answer:
        """Something went wrong that is no fault of the caller's."""
        text = "Something went wrong here. Try again; if it stays so, give the request's id to whoever runs the service."
        return problem("internal-error", text, request_id)

    async def _send(self, send: Send, answer: Answer, exchange: Exchange, fault: Exception | None = None) -> None:
        """Send the answer with the headers that every answer has, and count it."""
        status, body = answer.status, answer.body
        self._watch.answered(exchange, answer, fault)
        request_id = (b"x-request-id", exchange.request_id.encode())
        headers = [*self._always, request_id, (b"cache-control", answer.keep), *answer.headers]
        if self._rates and not exchange.route.is_always_open:
            headers += self._rates.fields(exchange.by.name)
        if self.is_stopping:
            headers.append(HANGING_UP)
        if status not in WITHOUT_BODY:
            headers += ((b"content-type", answer.media_type), (b"content-length", b"%d" % len(body)))
        await send({"type": "http.response.start", "status": status, "headers": headers})
        await send({"type": "http.response.body", "body": b"" if exchange.method == "HEAD" else body})
