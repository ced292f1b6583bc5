"""Answers that say more than their document: whether what was sent is new, where it is, and how long it may be kept."""

from typing import TypeVar

import msgspec
from litestar import MediaType, Response
from litestar.types import Receive, Scope, Send

from service.api.problems import CREATED, NOT_MODIFIED, OK

T = TypeVar("T")
FOR_EVER, ASK_EACH_TIME = "public, max-age=31536000, immutable", "no-cache"
FOR_EVER_IN_PRIVATE = "private, max-age=31536000, immutable"
FOR_A_DAY = "public, max-age=86400"
_encode = msgspec.json.Encoder().encode


def created_or_found(document: T, *, is_new: bool, location: str = "", **headers: str) -> Response[T]:
    """What is kept by now: 201 if it is new, else 200; `location` says where it is."""
    if location:
        headers["location"] = location
    return Response(document, status_code=CREATED if is_new else OK, headers=headers)


def cacheable(document: T, keep: str, **headers: str) -> Response[T]:
    """A document that may be kept for so long; bytes go out as they are."""
    return Response(document, headers={"cache-control": keep, **headers}, media_type=MediaType.JSON)


def not_modified(keep: str, **headers: str) -> Response[None]:
    """What the caller holds already is still the one."""
    return Response(None, status_code=NOT_MODIFIED, headers={"cache-control": keep, **headers})


class EncodedDocument:
    """A document that goes out with the least ado, an ASGI application by itself: what stations wait for."""

    __slots__ = ("_body", "_is_stale")

    def __init__(self, document: object, *, is_stale: bool = False) -> None:
        """Encoded here.

        is_stale  whether it rests on what was known before the database was away
        """
        self._body = _encode(document)
        self._is_stale = is_stale

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer so."""
        headers = [(b"content-type", b"application/json"), (b"content-length", str(len(self._body)).encode())]
        if self._is_stale:
            headers.append((b"x-catalogue-stale", b"true"))
        await send({"type": "http.response.start", "status": OK, "headers": headers})
        await send({"type": "http.response.body", "body": self._body, "more_body": False})
