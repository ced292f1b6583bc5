"""Streamed answers: one line of JSON per document, sent as soon as it is ready."""

import asyncio
from collections.abc import AsyncGenerator

import msgspec
from litestar.response import Stream

from service.api.bodies.receiving import StrictRequest
from service.api.exchanges import exchange_of
from service.api.operations import NDJSON

_encode = msgspec.json.Encoder().encode


class DocumentSource:
    """The documents of a streamed answer; closed with the request, however the answer ends."""

    def __init__(self, documents: AsyncGenerator[object]) -> None:
        """Wrap a generator of documents; none of them is requested yet."""
        self._documents = documents
        self._next: asyncio.Task[object] | None = None

    async def next(self) -> object:
        """The next document. Raises StopAsyncIteration after the last one."""
        self._next = asyncio.ensure_future(self._documents.__anext__())
        # When a caller hangs up, anyio's cancel scope cancels the awaiting task again and again; without the shield a generator
        # that needs several steps to close, such as one that ends worker processes, would be cut off in between.
        return await asyncio.shield(self._next)

    async def close(self) -> None:
        """Cancel the pending document, then close the generator."""
        if self._next is not None and not self._next.done():
            self._next.cancel()
            await asyncio.gather(self._next, return_exceptions=True)
        await self._documents.aclose()


async def stream_json_lines(documents: AsyncGenerator[object], request: StrictRequest) -> Stream:
    """The answer with one line per document; an error before the first document is still a refusal with its own status."""
    source = exchange_of(request.scope).answer_source = DocumentSource(documents)
    # Before the response begins, so that an error is answered with its own status.
    first = await source.next()

    async def lines() -> AsyncGenerator[bytes]:
        document = first
        while True:
            # granian takes some MiB ahead of a slow client; beyond that this waits, and no further document is made.
            yield _encode(document) + b"\n"
            try:
                document = await source.next()
            except StopAsyncIteration:
                return

    return Stream(lines(), media_type=NDJSON)
