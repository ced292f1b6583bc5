"""Answers in lines of JSON that come as they are ready, for as long as somebody takes them."""

import asyncio
from collections.abc import AsyncGenerator

import msgspec
from litestar.response import Stream

from service.api.bodies.receiving import StrictRequest
from service.api.exchanges import exchange_of
from service.api.operations import NDJSON

_encode = msgspec.json.Encoder().encode


class Source:
    """What lines are made of; it is closed with the request, whatever becomes of the answer."""

    def __init__(self, documents: AsyncGenerator[object]) -> None:
        """These documents, none of which is asked for yet."""
        self._documents = documents
        self._next: asyncio.Task[object] | None = None

    async def next(self) -> object:
        """The next document. Raises StopAsyncIteration behind the last one."""
        self._next = asyncio.ensure_future(self._documents.__anext__())
        # Litestar cancels whatever an answer waits for, again and again, when its caller hangs up; closing takes some steps.
        return await asyncio.shield(self._next)

    async def close(self) -> None:
        """End what is under way, and the documents."""
        if self._next is not None and not self._next.done():
            self._next.cancel()
            await asyncio.gather(self._next, return_exceptions=True)
        await self._documents.aclose()


async def streamed(documents: AsyncGenerator[object], request: StrictRequest) -> Stream:
    """A line each; what goes wrong before the first is a refusal still."""
    source = exchange_of(request.scope).source = Source(documents)
    first = await source.next()

    async def lines() -> AsyncGenerator[bytes]:
        document = first
        while True:
            yield _encode(document) + b"\n"
            try:
                document = await source.next()
            except StopAsyncIteration:
                return

    return Stream(lines(), media_type=NDJSON)
