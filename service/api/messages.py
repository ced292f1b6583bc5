"""What a server and the application say to each other (ASGI)."""

from collections.abc import Awaitable, Callable
from typing import Any

Message = dict[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]


class Gone(Exception):  # noqa: N818  not an error: the caller has hung up
    """Nobody waits for the answer any more."""
