"""An answer in lines that come as they are ready, for as long as somebody takes them."""

import asyncio
from collections.abc import AsyncGenerator
from typing import Self

import msgspec

from service.api.wires import Gone, Wire

END = b""
_encode = msgspec.json.Encoder().encode


class Stream:
    """Documents as NDJSON, a line each; the first is there already."""

    def __init__(self, first: object, rest: AsyncGenerator[object]) -> None:
        """These."""
        self._first, self._rest = first, rest

    @classmethod
    async def begun(cls, documents: AsyncGenerator[object]) -> Self:
        """These, once the first is there. Raises what getting it raises, so that what goes wrong at first is a refusal."""
        return cls(await anext(documents), documents)

    async def send(self, wire: Wire, seconds: float) -> None:
        """Send them all as the body of an answer, no faster than they are taken.

        seconds  in which a line has to be taken

        Whatever comes of it, the documents are closed. Raises Gone where the caller has hung up or takes nothing, and what
        making the documents raises, after those that came have been sent.
        """
        sending = asyncio.ensure_future(self._send(wire, seconds))
        hanging_up = asyncio.ensure_future(wire.hung_up())
        try:
            await asyncio.wait({sending, hanging_up}, return_when=asyncio.FIRST_COMPLETED)
            if not sending.done():
                raise Gone
            sending.result()
        finally:
            for each in (sending, hanging_up):
                each.cancel()
            await asyncio.gather(sending, hanging_up, return_exceptions=True)
            await self._rest.aclose()

    async def _send(self, wire: Wire, seconds: float) -> None:
        try:
            await _part(wire, _line(self._first), seconds)
            async for document in self._rest:
                await _part(wire, _line(document), seconds)
        except Gone:
            raise
        except Exception:
            await _part(wire, END, seconds)
            raise
        await _part(wire, END, seconds)


def _line(document: object) -> bytes:
    return _encode(document) + b"\n"


async def _part(wire: Wire, part: bytes, seconds: float) -> None:
    """Raises Gone where nobody takes it."""
    try:
        async with asyncio.timeout(seconds):
            await wire.send_part(part)
    except (OSError, TimeoutError) as error:
        raise Gone from error
