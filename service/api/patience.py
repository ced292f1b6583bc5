"""Waiting for something no longer than so many seconds, at next to no cost where it comes at once."""

import asyncio
from types import TracebackType

LOOKS_PER_WAIT = 10
"""A wait is ended at most a tenth of it too late."""
LOOKS_IN_A_HURRY = 2
"""So many looks a wait may last while others need its place: from a tenth to a fifth of its time."""


class Patience:
    """Ends waits that take too long: `with patience: await something`, which raises TimeoutError then; must run in a task.

    asyncio.timeout sets and clears a timer for every wait, which costs as much as decoding a check does. Here the waits
    stand in one table that is looked through now and then, and a look is what time is counted in.
    """

    def __init__(self, seconds: float) -> None:
        """Wait so long at most."""
        self._seconds_between_looks = seconds / LOOKS_PER_WAIT
        self._looks = 0
        self._until: dict[asyncio.Task[object], int] = {}
        """The look at which each wait has taken too long."""
        self._ended: set[asyncio.Task[object]] = set()
        self._is_looking = False

    def __enter__(self) -> None:
        """Begin to wait."""
        task = asyncio.current_task()
        if task is None:
            raise RuntimeError("Only a task can be ended while it waits.")
        # The next look may come at once, so one more than make up the wait.
        self._until[task] = self._looks + LOOKS_PER_WAIT + 1
        if not self._is_looking:
            self._is_looking = True
            self._look_later()

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        """The wait is over. Raises TimeoutError where it was ended."""
        task = asyncio.current_task()
        assert task is not None
        del self._until[task]
        if task in self._ended:
            self._ended.discard(task)
            if isinstance(error, asyncio.CancelledError):
                task.uncancel()
                raise TimeoutError from None

    def hurry(self) -> None:
        """End what has waited for a while, as others need the place; what has just begun goes on."""
        self._end(self._looks + LOOKS_PER_WAIT + 1 - LOOKS_IN_A_HURRY)

    def look(self) -> None:
        """End what has waited too long, and look again later while anything waits."""
        self._looks += 1
        self._end(self._looks)
        self._is_looking = bool(self._until)
        if self._is_looking:
            self._look_later()

    def _look_later(self) -> None:
        asyncio.get_running_loop().call_later(self._seconds_between_looks, self.look)

    def _end(self, last: int) -> None:
        """End the waits that would be ended at this look or before."""
        for task, until in self._until.items():
            if until <= last and task not in self._ended:
                self._ended.add(task)
                task.cancel()
