"""Doing something now and then until it is time to end; what is under way then is not broken off.

A database's driver that is cancelled in the middle of a statement cleans up by further ones, for which nobody may be there any
more: its task would never end.
"""

import asyncio
from contextlib import suppress


async def is_over(ending: asyncio.Event, seconds: float) -> bool:
    """Whether it is time to end, which is waited for no longer than so many seconds."""
    with suppress(TimeoutError):
        async with asyncio.timeout(seconds):
            await ending.wait()
    return ending.is_set()
