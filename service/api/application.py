"""The ASGI application: Litestar, plus checks on every request before routing and header fields on every answer."""

import asyncio
from typing import Any, Self

from litestar import Litestar, Request
from litestar.events import BaseEventEmitterBackend
from litestar.types import Message, Receive, Scope, Send
from msgspec import Struct

from service.api.access.gate import Gate
from service.api.access.hosts import AllowedHosts
from service.api.access.rates import RateLimiter
from service.api.bodies.receiving import CLOSE_CONNECTION, Bodies
from service.api.exchanges import EXCHANGE, Exchange, begin_exchange, exchange_of
from service.api.problems import MANY_SLASHES, HeaderFields, RefusalError, allow_header, refusal_of
from service.api.watching.recording import RequestRecorder
from service.engine.documents import quoted
from service.usecases.keys import Keyring

ALWAYS: HeaderFields = (
    # In place of what the server program would say of itself, which helps those who look for its faults.
    ("server", "service"),
    ("x-content-type-options", "nosniff"),
    (
        "content-security-policy",
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; base-uri 'none'",
    ),
    ("referrer-policy", "no-referrer"),
)
ONLY_ENCRYPTED = ("strict-transport-security", "max-age=31536000")
"""HSTS: a browser that has seen it uses https alone for a year."""
# The default: what an answer shows can change at any time, so caches store only what says that it may be stored.
NO_STORE = (b"cache-control", b"no-store")
CONNECTION_CLOSE = (b"connection", b"close")
"""Sent while the service is stopping: the client's next request uses a new connection, so perhaps another replica."""
ONCE = {b"host": "Host", b"authorization": "Authorization"}
"""Header fields that must not be repeated, as a proxy in front could read another one of them than this service does."""
OLD = ("1.0", "1")
"""HTTP/1.0 as ASGI servers write it in `http_version`."""


class RequestPolicy(Struct):
    """The limits and observers that apply to every request and answer, and the state of a stop."""

    hosts: AllowedHosts
    gate: Gate
    bodies: Bodies
    rates: RateLimiter | None
    keyring: Keyring
    watch: RequestRecorder
    seconds: float
    """Seconds within which the client has to take each part of a streamed answer."""
    leaving_seconds: float
    """Seconds for which requests are still accepted after the signal to stop."""
    is_encrypted: bool
    """True where the server uses TLS."""
    is_stopping: bool = False
    """True from the signal to stop onwards."""

    @property
    def asks_for_keys(self) -> bool | None:
        """Whether requests need a key; None as long as the database has never been reached to tell."""
        return not self.keyring.is_open if self.keyring.is_known else None


def _check_clear(exchange: Exchange) -> None:
    """Raise RefusalError for a head that a proxy and this service could read differently (request smuggling).

    Source: RFC 9112, 3.2, for repeated Host fields, and 6.1 for unknown transfer codings.
    """
    for name, title in ONCE.items():
        if name in exchange.repeated_fields:
            text = f"The header {title} was sent more than once. Send it once."
            raise RefusalError("head-not-clear", text, CLOSE_CONNECTION)
    coding = exchange.header(b"transfer-encoding")
    if coding is not None and (coding.lower() != "chunked" or b"transfer-encoding" in exchange.repeated_fields):
        text = "The only transfer coding taken is `chunked`. Remove the header Transfer-Encoding, or set it to `chunked`."
        raise RefusalError("head-not-clear", text, CLOSE_CONNECTION)


def _wrong_host(host: str | None) -> str:
    """That the header Host names another host, or none: which, and where to allow it."""
    if not host:
        return "The request has no header Host. Send it with the name of this service."
    return (
        f"{quoted(host)} in the header Host is not a name of this service. Correct the address, or have the name added to "
        "MARKERYARN_HOSTS."
    )


class NoEvents(BaseEventEmitterBackend):
    """An event emitter that does nothing.

    No code here uses Litestar's events, and its default emitter wraps whatever a lifespan raises in an exception group.
    """

    async def __aenter__(self) -> Self:
        """Start nothing."""
        return self

    async def __aexit__(self, *_: object) -> None:
        """Stop nothing."""

    def emit(self, event_id: str, *args: object, **kwargs: object) -> None:
        """Raise KeyError, as no event has a listener."""
        raise KeyError(event_id)


class Application(Litestar):
    """Litestar with what it lacks: Host and load checks before routing, HEAD by GET, and header fields on every answer.

    A subclass rather than middleware, as Litestar raises 404 and 405 before it calls any middleware.
    """

    def __init__(self, policy: RequestPolicy, **options: Any) -> None:  # all that Litestar takes
        """Create the application; `options` are those of Litestar."""
        self.policy = policy
        always = (*ALWAYS, ONLY_ENCRYPTED) if policy.is_encrypted else ALWAYS
        # Encoded once, as they are added to every answer.
        self._always = [(name.encode(), text.encode()) for name, text in always]
        super().__init__(before_send=[self.complete], event_emitter_backend=NoEvents, **options)

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:  # three kinds of connection in one
        """Answer one request, or run the lifespan."""
        if scope["type"] == "lifespan":
            await super().__call__(scope, receive, send)
            return
        if scope["type"] != "http":
            # No route takes websockets, and a server that opened one waits for an answer.
            await send({"type": "websocket.close"})
            return
        policy, exchange = self.policy, begin_exchange(scope["method"], scope["headers"])
        scope["state"] = {**scope.get("state", {}), EXCHANGE: exchange}
        # Litestar would need an operation of its own for HEAD; `_sending` leaves the body out instead.
        if exchange.method == "HEAD":
            scope["method"] = "GET"
        policy.watch.in_flight += 1
        try:
            await self._answer(scope, receive, self._sending(send, exchange))
        finally:
            policy.watch.in_flight -= 1
            policy.gate.leave(exchange)
            # An exception's traceback references the frames and so the exchange: without this cut the cycle keeps whole
            # bodies in memory until the garbage collector finds it.
            exchange.error = exchange.document = None
        # After the answer is sent, as many clients read it only when their whole body is written.
        if exchange.has_unread_body:
            await policy.bodies.drain(receive)

    async def _answer(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Check the request and let Litestar answer it; an answer that breaks off is recorded as such."""
        try:
            self._check(scope)
        except RefusalError as error:
            await self._refuse(error, scope, receive, send)
            return
        exchange = exchange_of(scope)
        try:
            await super().__call__(scope, receive, send)
        except Exception as error:  # noqa: BLE001  the status is sent, so it can only be logged and counted
            # Litestar wraps an exception that is raised after the answer has begun.
            cause = error.__cause__
            exchange.error = exchange.error or (cause if isinstance(cause, Exception) else error)
        finally:
            if exchange.answer_source is not None:
                await exchange.answer_source.close()
        if not exchange.is_reported:
            self.policy.watch.record_abort(exchange)

    def _check(self, scope: Scope) -> None:
        """Raise RefusalError for an unclear head, a foreign Host, a path that Litestar would normalise, or too much load."""
        policy, exchange, path = self.policy, exchange_of(scope), scope["path"]
        if exchange.repeated_fields or b"transfer-encoding" in exchange.fields:
            _check_clear(exchange)
        host = exchange.header(b"host")
        # HTTP/1.0 allows requests without Host; some ASGI servers pass an empty value then.
        is_left_out = not host and scope.get("http_version") in OLD
        if host not in policy.hosts.accepted_values and not is_left_out and not policy.hosts.allows(host):
            raise RefusalError("wrong-host", _wrong_host(host))
        # Litestar would normalise the path, so one resource would have several URLs.
        if "//" in path or (path.endswith("/") and path != "/"):
            raise RefusalError("not-found", MANY_SLASHES)
        # Up to the lower limit nobody is refused, so hardly any request pays for the call.
        if policy.watch.in_flight > policy.gate.most_of_bulk:
            try:
                policy.gate.check(path, policy.watch.in_flight)
            except RefusalError:
                # Slow bodies hold places that others need now.
                policy.bodies.expire_early()
                raise

    async def _refuse(self, error: RefusalError, scope: Scope, receive: Receive, send: Send) -> None:
        """Send a refusal that was raised before routing, with the same header fields as any other answer."""
        # Litestar's responses look the application up in the scope, which its own `__call__` would have set.
        scope["app"] = scope["litestar_app"] = self
        request = Request[Any, Any, Any](scope, receive, send)

        async def completed(message: Message) -> None:
            await self.complete(message, scope)
            await send(message)

        answer = refusal_of(error).to_response(request).to_asgi_response(app=None, request=request)
        await answer(scope, receive, completed)

    def _sending(self, send: Send, exchange: Exchange) -> Send:
        """Wrap `send`: each part of a stream has a deadline, and an answer to HEAD has an empty body."""
        seconds, has_body = self.policy.seconds, exchange.method != "HEAD"

        async def sent(message: Any) -> None:  # two kinds of message in one
            if message["type"] == "http.response.body" and not has_body:
                message = {**message, "body": b""}
            if not message.get("more_body"):
                await send(message)
                return
            # A client that reads nothing must not hold the source of the answer, such as worker processes, for ever.
            try:
                async with asyncio.timeout(seconds):
                    await send(message)
            except OSError as error:
                # Litestar's stream raises it again inside an exception group; `record_abort` needs the TimeoutError itself.
                exchange.error = error
                raise

        return sent

    async def complete(self, message: Any, scope: Any) -> None:  # Litestar types it for all kinds of connection
        """Litestar's `before_send` hook: complete the header fields, and record the answer with its last message."""
        exchange = exchange_of(scope)
        if message["type"] == "http.response.start":
            exchange.status = message["status"]
            message["headers"] = self._head(message["headers"], scope, exchange)
        elif not message.get("more_body"):
            self.policy.watch.record_answer(exchange)

    def _head(self, own: Any, scope: Any, exchange: Exchange) -> list[tuple[bytes, bytes]]:
        """All header fields of an answer: its own, and those of every answer."""
        head = [*own, (b"x-request-id", exchange.request_id.encode()), *self._always]
        if not any(name == b"cache-control" for name, _ in own):
            head.append(NO_STORE)
        if exchange.method == "OPTIONS":
            may = self._methods(scope.get("path_template")).encode()
            head = [(name, may if name == b"allow" else text) for name, text in head]
        rates, operation = self.policy.rates, exchange.operation
        if rates and not operation.is_always_open:
            head += [(name.encode(), text.encode()) for name, text in rates.header_fields(exchange.principal.name)]
        if self.policy.is_stopping:
            head.append(CONNECTION_CLOSE)
        return head

    def _methods(self, path: str | None) -> str:
        """The header Allow for a path: the methods of all its routes, as Litestar lists those of one route alone."""
        return allow_header(method for route in self.routes if route.path_format == path for method in route.methods)
