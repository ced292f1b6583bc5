"""Answers with headers or a status besides their document: created or found, cacheable, not modified."""

from typing import TypeVar

import msgspec
from litestar import MediaType, Response
from litestar.types import Receive, Scope, Send

from service.api.problems import CREATED, NOT_MODIFIED, OK

T = TypeVar("T")
PUBLIC_FOR_EVER, REVALIDATE = "public, max-age=31536000, immutable", "no-cache"
PRIVATE_FOR_EVER = "private, max-age=31536000, immutable"
PUBLIC_FOR_A_DAY = "public, max-age=86400"
_encode = msgspec.json.Encoder().encode


def created_or_found(document: T, *, is_new: bool, location: str = "", **headers: str) -> Response[T]:
    """201 with the document if it is new, else 200; `location` is its URL for the header Location."""
    if location:
        headers["location"] = location
    return Response(document, status_code=CREATED if is_new else OK, headers=headers)


def cacheable(document: T, cache_control: str, **headers: str) -> Response[T]:
    """A document with this Cache-Control; bytes are sent verbatim."""
    return Response(document, headers={"cache-control": cache_control, **headers}, media_type=MediaType.JSON)


def not_modified(cache_control: str, **headers: str) -> Response[None]:
    """304: the caller's copy is still current."""
    return Response(None, status_code=NOT_MODIFIED, headers={"cache-control": cache_control, **headers})


class EncodedDocument:
    """A document as a minimal ASGI application: the answer to checks and verdicts, which stations wait for.

    Litestar calls an ASGI application that a handler returns as it is, without building a response around it.
    """

    __slots__ = ("_body", "_is_stale")

    def __init__(self, document: object, *, is_stale: bool = False) -> None:
        """Encode the document as JSON.

        is_stale  True where it rests on grades that were cached before the database went away
        """
        self._body = _encode(document)
        self._is_stale = is_stale

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Send the answer: status 200, with X-Catalogue-Stale where it is stale."""
        headers = [(b"content-type", b"application/json"), (b"content-length", str(len(self._body)).encode())]
        if self._is_stale:
            headers.append((b"x-catalogue-stale", b"true"))
        await send({"type": "http.response.start", "status": OK, "headers": headers})
        await send({"type": "http.response.body", "body": self._body, "more_body": False})
