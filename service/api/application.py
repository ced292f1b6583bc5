"""The application: Litestar, and what holds for every request before it is routed and for every answer, whatever it is."""

import asyncio
from typing import Any, Self

from litestar import Litestar, Request
from litestar.events import BaseEventEmitterBackend
from litestar.types import Message, Receive, Scope, Send
from msgspec import Struct

from service.api.access.gate import Gate
from service.api.access.hosts import AllowedHosts
from service.api.access.rates import RateLimiter
from service.api.bodies.receiving import HANG_UP, Bodies
from service.api.exchanges import EXCHANGE, Exchange, begin_exchange, exchange_of
from service.api.problems import NO_PATH, Head, RefusalError, allowed, refusal
from service.api.watching.recording import RequestRecorder
from service.usecases.keys import Keyring

ALWAYS: Head = (
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
"""Tells a browser to come by https alone, for a year."""
NO_STORE = (b"cache-control", b"no-store")
HANGING_UP = (b"connection", b"close")
ONCE = {b"host": "Host", b"authorization": "Authorization"}
"""Header fields that say who is asked and who asks, so that there must be one."""
"""Tells a client that its next request goes over another connection, so perhaps to another replica."""
OLD = ("1.0", "1")
"""What servers call HTTP/1.0."""


class RequestPolicy(Struct):
    """What every request passes, on its way in and on its way out."""

    hosts: AllowedHosts
    gate: Gate
    bodies: Bodies
    rates: RateLimiter | None
    keyring: Keyring
    watch: RequestRecorder
    seconds: float
    """In which a part of an answer has to be taken."""
    leaving_seconds: float
    """For which requests are still taken after the signal to stop."""
    is_encrypted: bool
    """True where TLS is spoken."""
    is_stopping: bool = False
    """True from the signal to stop on."""

    @property
    def asks_for_keys(self) -> bool | None:
        """Whether a key is asked for by now; None where the database has not been there to say."""
        return not self.keyring.is_open if self.keyring.is_known else None


def _check_clear(exchange: Exchange) -> None:
    """Raise RefusalError where two who read the head would understand it differently.

    Source: RFC 9112, 3.2, for two fields Host, and 6.1 for codings of a transfer that are not understood.
    """
    for name, title in ONCE.items():
        if name in exchange.repeated:
            text = f"The header {title} stands in the head more than once. Send it once."
            raise RefusalError("head-not-clear", text, HANG_UP)
    coding = exchange.header(b"transfer-encoding")
    if coding is not None and (coding.lower() != "chunked" or b"transfer-encoding" in exchange.repeated):
        text = "A body may come in chunks, and coded in no other way. Leave the header Transfer-Encoding out, or say `chunked`."
        raise RefusalError("head-not-clear", text, HANG_UP)


class NoEvents(BaseEventEmitterBackend):
    """Nothing here listens to events; Litestar's own emitter makes groups of whatever a life span raises."""

    async def __aenter__(self) -> Self:
        """Nothing begins."""
        return self

    async def __aexit__(self, *_: object) -> None:
        """Nothing ends."""

    def emit(self, event_id: str, *args: object, **kwargs: object) -> None:
        """Nobody is told. Raises KeyError, as nobody listens."""
        raise KeyError(event_id)


class Application(Litestar):
    """Refuses other hosts and what is one too many, answers HEAD as GET without the body, and completes each answer's head."""

    def __init__(self, edge: RequestPolicy, **given: Any) -> None:  # all that Litestar takes
        """Litestar with this edge."""
        self.edge = edge
        always = (*ALWAYS, ONLY_ENCRYPTED) if edge.is_encrypted else ALWAYS
        self._always = [(name.encode(), text.encode()) for name, text in always]
        super().__init__(before_send=[self.complete], event_emitter_backend=NoEvents, **given)

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:  # three kinds of connection in one
        """Answer one request, or live through the life span."""
        if scope["type"] == "lifespan":
            await super().__call__(scope, receive, send)
            return
        if scope["type"] != "http":
            # There is none here, and a server that offers one must not be left hanging.
            await send({"type": "websocket.close"})
            return
        edge, exchange = self.edge, begin_exchange(scope["method"], scope["headers"])
        scope["state"] = {**scope.get("state", {}), EXCHANGE: exchange}
        if exchange.method == "HEAD":
            scope["method"] = "GET"
        edge.watch.in_flight += 1
        try:
            await self._answer(scope, receive, self._sending(send, exchange))
        finally:
            edge.watch.in_flight -= 1
            edge.gate.leave(exchange)
            # A refusal holds by its traceback all that it was found in, and the exchange too: such a ring is only found later.
            exchange.error = exchange.document = None
        if exchange.is_left:
            await edge.bodies.pour_away(receive)

    async def _answer(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let Litestar answer what may come in; an answer that breaks off, or that nobody takes, is told of."""
        try:
            self._check(scope)
        except RefusalError as error:
            await self._refuse(error, scope, receive, send)
            return
        exchange = exchange_of(scope)
        try:
            await super().__call__(scope, receive, send)
        except Exception as error:  # noqa: BLE001  its status is sent, so that it is told in the log and the figures alone
            # Litestar wraps what comes after an answer has begun.
            cause = error.__cause__
            exchange.error = exchange.error or (cause if isinstance(cause, Exception) else error)
        finally:
            if exchange.source is not None:
                await exchange.source.close()
        if not exchange.is_reported:
            self.edge.watch.broke_off(exchange)

    def _check(self, scope: Scope) -> None:
        """Raise RefusalError where the service does not go by this name, has no such path, or has too much to do."""
        edge, exchange, path = self.edge, exchange_of(scope), scope["path"]
        if exchange.repeated or b"transfer-encoding" in exchange.fields:
            _check_clear(exchange)
        host = exchange.header(b"host")
        # HTTP/1.0 may leave the name out; some servers give an empty one then.
        is_left_out = not host and scope.get("http_version") in OLD
        if host not in edge.hosts.remembered and not is_left_out and not edge.hosts.knows(host):
            raise RefusalError("wrong-host", "This service does not go by the name in the header Host. Correct the address.")
        # Litestar would tidy it up.
        if "//" in path or (path.endswith("/") and path != "/"):
            raise RefusalError("not-found", NO_PATH)
        if edge.watch.in_flight > edge.gate.most_of_bulk:
            try:
                edge.gate.check(path, edge.watch.in_flight)
            except RefusalError:
                edge.bodies.hurry()
                raise

    async def _refuse(self, error: RefusalError, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer in Litestar's place."""
        scope["app"] = scope["litestar_app"] = self
        request = Request[Any, Any, Any](scope, receive, send)

        async def completed(message: Message) -> None:
            await self.complete(message, scope)
            await send(message)

        answer = refusal(error).to_response(request).to_asgi_response(app=None, request=request)
        await answer(scope, receive, completed)

    def _sending(self, send: Send, exchange: Exchange) -> Send:
        """Sends each part within its time, and of an answer to HEAD no part."""
        seconds, has_body = self.edge.seconds, exchange.method != "HEAD"

        async def sent(message: Any) -> None:  # two kinds of message in one
            if message["type"] == "http.response.body" and not has_body:
                message = {**message, "body": b""}
            if not message.get("more_body"):
                await send(message)
                return
            # Whoever takes nothing must not hold what an answer is made of for ever.
            try:
                async with asyncio.timeout(seconds):
                    await send(message)
            except OSError as error:
                # Litestar puts it into a group of exceptions.
                exchange.error = error
                raise

        return sent

    async def complete(self, message: Any, scope: Any) -> None:  # Litestar types it for all kinds of connection
        """Before each message: give the head what every answer has, and tell of the answer at its end."""
        exchange = exchange_of(scope)
        if message["type"] == "http.response.start":
            exchange.status = message["status"]
            message["headers"] = self._head(message["headers"], scope, exchange)
        elif not message.get("more_body"):
            self.edge.watch.answered(exchange)

    def _head(self, own: Any, scope: Any, exchange: Exchange) -> list[tuple[bytes, bytes]]:
        """All header fields of an answer."""
        head = [*own, (b"x-request-id", exchange.request_id.encode()), *self._always]
        if not any(name == b"cache-control" for name, _ in own):
            head.append(NO_STORE)
        if exchange.method == "OPTIONS":
            may = self._methods(scope.get("path_template")).encode()
            head = [(name, may if name == b"allow" else text) for name, text in head]
        rates, operation = self.edge.rates, exchange.operation
        if rates and not operation.is_always_open:
            head += [(name.encode(), text.encode()) for name, text in rates.fields(exchange.by.name)]
        if self.edge.is_stopping:
            head.append(HANGING_UP)
        return head

    def _methods(self, path: str | None) -> str:
        """Which methods a path takes: Litestar tells those of one of its handlers."""
        return allowed(method for route in self.routes if route.path_format == path for method in route.methods)
