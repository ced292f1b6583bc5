"""ASGI 3: the protocol of most servers."""

from collections.abc import Awaitable, Callable
from contextlib import AbstractAsyncContextManager
from typing import Any

from service.api.wires import Gone, WholeHead, encoded

Message = dict[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
READ = {
    name.encode(): name
    for name in (
        "authorization",
        "content-encoding",
        "content-length",
        "content-type",
        "host",
        "if-match",
        "if-none-match",
        "traceparent",
    )
}
"""The fields that anything here looks at; a client sends as many again, and each takes its time to be decoded."""
OLD = ("1.0", "1")
"""What servers call HTTP/1.0."""


class AsgiWire:
    """A request by ASGI."""

    __slots__ = ("_receive", "_scope", "_send", "headers", "method", "path", "query")

    def __init__(self, scope: dict[str, Any], receive: Receive, send: Send) -> None:
        """Of this scope."""
        self.method: str = scope["method"]
        self.path: str = scope["path"]
        query: bytes = scope["query_string"]
        self.query = query.decode(errors="surrogateescape") if query else ""
        # RFC 9110, 5.5: bytes above ASCII may stand there, and mean nothing.
        self.headers = {READ[name]: text.decode("latin-1") for name, text in scope["headers"] if name in READ}
        self._scope, self._receive, self._send = scope, receive, send

    @property
    def is_old(self) -> bool:
        """True of HTTP/1.0."""
        return self._scope.get("http_version") in OLD

    async def body(self, most: int) -> bytes:
        """The whole body, or as many parts as are too much. Raises Gone."""
        message = await self._receive()
        if message["type"] == "http.request" and not message.get("more_body"):
            body: bytes = message.get("body", b"")
            return body
        parts = [message.get("body", b"")]
        total = len(parts[0])
        while message.get("more_body") and total <= most:
            message = await self._receive()
            parts.append(message.get("body", b""))
            total += len(parts[-1])
        if message["type"] == "http.disconnect":
            raise Gone
        return b"".join(parts)

    async def pour_away(self, most: int) -> None:
        """Take and forget what still comes."""
        poured = 0
        while poured < most:
            message = await self._receive()
            poured += len(message.get("body", b""))
            if not message.get("more_body"):
                return

    async def send(self, status: int, head: WholeHead, body: bytes) -> None:
        """The whole answer."""
        # What `begin` does; said again, as a station waits for each call.
        fields = [*head.shared.encoded, *[(name.encode(), text.encode()) for name, text in head.own]]
        await self._send({"type": "http.response.start", "status": status, "headers": fields})
        await self._send({"type": "http.response.body", "body": body})

    async def begin(self, status: int, head: WholeHead) -> None:
        """All but the body."""
        fields = [*head.shared.encoded, *encoded(head.own)]
        await self._send({"type": "http.response.start", "status": status, "headers": fields})

    async def send_part(self, part: bytes) -> None:
        """Wait until the server takes it."""
        await self._send({"type": "http.response.body", "body": part, "more_body": bool(part)})

    async def hung_up(self) -> None:
        """Look at what comes until that is said; what else the caller may send is not looked at."""
        while (await self._receive())["type"] != "http.disconnect":
            pass


async def live(living: Callable[[], AbstractAsyncContextManager[None]], receive: Receive, send: Send) -> None:
    """The life span: what is needed begins when the server starts, and ends when it stops.

    Raises what beginning and ending raise, after the server was told, so that its log shows the traceback too.
    """
    await receive()
    begun = False
    try:
        async with living():
            begun = True
            await send({"type": "lifespan.startup.complete"})
            await receive()
    except BaseException as error:
        await send({"type": f"lifespan.{'shutdown' if begun else 'startup'}.failed", "message": str(error)})
        raise
    await send({"type": "lifespan.shutdown.complete"})
