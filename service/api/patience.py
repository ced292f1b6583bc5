"""Waiting for something no longer than so many seconds, at next to no cost where it comes at once."""

import asyncio
from collections.abc import Awaitable
from typing import TypeVar

T = TypeVar("T")
LOOKS_PER_WAIT = 10
"""A wait is ended at most a tenth of it too late."""


class Patience:
    """Ends waits that take too long.

    asyncio.timeout sets and clears a timer for every wait, which costs as much as decoding a check does. Here the waits
    stand in one table that is looked through now and then.
    """

    def __init__(self, seconds: float) -> None:
        """Wait so long at most."""
        self._seconds = seconds
        self._until: dict[asyncio.Task[object], float] = {}
        self._ended: set[asyncio.Task[object]] = set()
        self._is_looking = False

    async def wait_for(self, awaitable: Awaitable[T]) -> T:
        """What it gives. Raises TimeoutError where that takes too long; must run in a task."""
        task = asyncio.current_task()
        if task is None:
            raise RuntimeError("Only a task can be ended while it waits.")
        loop = asyncio.get_running_loop()
        self._until[task] = loop.time() + self._seconds
        if not self._is_looking:
            self._is_looking = True
            loop.call_later(self._seconds / LOOKS_PER_WAIT, self._look, loop)
        try:
            return await awaitable
        except asyncio.CancelledError:
            if task not in self._ended:
                raise
            task.uncancel()
            raise TimeoutError from None
        finally:
            del self._until[task]
            self._ended.discard(task)

    def _look(self, loop: asyncio.AbstractEventLoop) -> None:
        """End what has waited too long, and look again later while anything waits."""
        now = loop.time()
        for task, until in self._until.items():
            if until <= now and task not in self._ended:
                self._ended.add(task)
                task.cancel()
        self._is_looking = bool(self._until)
        if self._is_looking:
            loop.call_later(self._seconds / LOOKS_PER_WAIT, self._look, loop)
