"""One request on its way, and what is to be told of it at its end."""

import secrets
from collections import Counter
from collections.abc import Iterable, Mapping
from itertools import count
from time import perf_counter
from typing import Any, Protocol

from msgspec import Struct

from service.api.operations import NOWHERE, Operation
from service.usecases.keys import LOCAL, Principal

EXCHANGE = "exchange"
_PREFIX = f"{secrets.token_hex(4)}-{secrets.token_hex(2)}-8{secrets.token_hex(2)[1:]}-8{secrets.token_hex(2)[1:]}-"
"""An id by RFC 9562, version 8: 72 random bits of this process, then a number."""
_NUMBERS = count()
NONE = frozenset[bytes]()


class Closable(Protocol):
    """Something that has to be closed at the end of a request."""

    async def close(self) -> None:
        """Close it."""


class Exchange(Struct):
    """What is known of a request; it grows on the way, so it is not frozen."""

    method: str
    fields: Mapping[bytes, bytes]
    """Of its head, by their names in small letters; of several of a name the last."""
    repeated: frozenset[bytes]
    """The names of fields that stand in its head more than once."""
    begun: float
    """By `time.perf_counter`."""
    number: int
    operation: Operation = NOWHERE
    """What is asked for; set as soon as the path and the method are known."""
    by: Principal = LOCAL
    """Who asks; set as soon as the key is looked up."""
    status: int = 0
    """Of the answer, as soon as that begins."""
    code: str = ""
    """Of a refusal: that of its first flaw, or the kind of problem."""
    error: Exception | None = None
    """What it was refused or has failed by."""
    is_reported: bool = False
    """True when it has been counted and logged."""
    is_long: bool = False
    """True while it is counted among the long bodies that are worked on."""
    admitted: int = 0
    """Bytes for which its body was admitted; 0 where it is not large."""
    is_left: bool = False
    """True where its body was refused before all of it was taken."""
    source: Closable | None = None
    """What an answer in parts is made of; it is closed at the end, whatever becomes of the answer."""
    document: Any = None
    """What its body writes, until the handler takes it."""

    def header(self, name: bytes) -> str | None:
        """The text of a header field; None where there is none."""
        text = self.fields.get(name)
        # RFC 9110, 5.5: bytes above ASCII may stand there, and mean nothing.
        return None if text is None else str(text, "latin-1")

    @property
    def request_id(self) -> str:
        """As in the header X-Request-Id, and in problem documents."""
        return f"{_PREFIX}{self.number:012x}"


def begin_exchange(method: str, fields: Iterable[tuple[bytes, bytes]] = ()) -> Exchange:
    """A request that begins now."""
    listed = list(fields)
    by_name = dict(listed)
    repeated = (
        NONE
        if len(by_name) == len(listed)
        else frozenset(name for name, n in Counter(name for name, _ in listed).items() if n > 1)
    )
    return Exchange(method, by_name, repeated, perf_counter(), next(_NUMBERS))


def exchange_of(scope: Any) -> Exchange:  # the scope of ASGI, as Litestar types it
    """The exchange of a connection."""
    found: Exchange = scope["state"][EXCHANGE]
    return found
