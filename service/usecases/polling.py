"""Periodic work until the service stops, without cancelling a round that is running.

A database driver that is cancelled in the middle of a statement cleans up by further statements; if the connection is gone by
then, its task never ends.
"""

import asyncio
from contextlib import suppress


async def ended_within(ending: asyncio.Event, seconds: float) -> bool:
    """Wait for the end, at most `seconds`; True if it has come."""
    with suppress(TimeoutError):
        async with asyncio.timeout(seconds):
            await ending.wait()
    return ending.is_set()
