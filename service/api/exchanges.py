"""The state of one request from its head to its log line."""

import secrets
from collections import Counter
from collections.abc import Iterable, Mapping
from itertools import count
from time import perf_counter
from typing import Any, Protocol

from msgspec import Struct

from service.api.operations import UNROUTED, Operation
from service.usecases.keys import LOCAL, Principal

EXCHANGE = "exchange"
# Random bits once per process and then a counter, as fresh random bits for each request would cost a system call.
_PREFIX = f"{secrets.token_hex(4)}-{secrets.token_hex(2)}-8{secrets.token_hex(2)[1:]}-8{secrets.token_hex(2)[1:]}-"
"""Start of all request ids of this process: UUIDs of version 8 (RFC 9562), 72 random bits and then a counter."""
_REQUEST_NUMBERS = count()
NO_NAMES = frozenset[bytes]()


class Closable(Protocol):
    """A resource that has to be closed at the end of a request."""

    async def close(self) -> None:
        """Release the resource."""


class Exchange(Struct):
    """What is known of a request; filled in while it is processed, so not frozen."""

    method: str
    fields: Mapping[bytes, bytes]
    """Header fields by their lower-case names; of fields with the same name the last one."""
    repeated_fields: frozenset[bytes]
    """Names of header fields that were sent more than once."""
    started: float
    """Start of the request by `time.perf_counter`."""
    number: int
    operation: Operation = UNROUTED
    """The operation that is called; set as soon as path and method are resolved."""
    principal: Principal = LOCAL
    """The caller; set as soon as the key is looked up."""
    status: int = 0
    """Status of the answer; 0 until the answer begins."""
    code: str = ""
    """Code of a refusal: that of its first flaw, or the kind of problem."""
    error: Exception | None = None
    """The exception by which the request was refused or failed."""
    is_reported: bool = False
    """True once the request is counted and logged."""
    is_long: bool = False
    """True while the request counts as a long body in the gate."""
    admitted_bytes: int = 0
    """Bytes that the gate has reserved for the body; 0 for a body that is not large."""
    has_unread_body: bool = False
    """True where the body was refused before all of it was received."""
    answer_source: Closable | None = None
    """Source of a streamed answer; closed at the end of the request, however the answer ended."""
    document: Any = None
    """The decoded body, from `before_request` until the handler takes it."""

    def header(self, name: bytes) -> str | None:
        """The value of a header field; None where it was not sent."""
        text = self.fields.get(name)
        # Decoded on access: few fields are read, and decoding all of them at once did not pay.
        # RFC 9110, 5.5: bytes above ASCII are allowed there without a meaning; latin-1 decodes any byte.
        return None if text is None else str(text, "latin-1")

    @property
    def request_id(self) -> str:
        """The request id, as in the header X-Request-Id and in problem documents."""
        return f"{_PREFIX}{self.number:012x}"


def begin_exchange(method: str, fields: Iterable[tuple[bytes, bytes]] = ()) -> Exchange:
    """The exchange of a request that begins now."""
    listed = list(fields)
    by_name = dict(listed)
    # Header fields are counted only where a name was lost in the dictionary: hardly any request repeats one.
    repeated = (
        NO_NAMES
        if len(by_name) == len(listed)
        else frozenset(name for name, n in Counter(name for name, _ in listed).items() if n > 1)
    )
    return Exchange(method, by_name, repeated, perf_counter(), next(_REQUEST_NUMBERS))


def exchange_of(scope: Any) -> Exchange:  # the scope of ASGI, as Litestar types it
    """The exchange that `Application` stored in the scope of this connection."""
    found: Exchange = scope["state"][EXCHANGE]
    return found
