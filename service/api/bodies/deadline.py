"""Waiting for something no longer than so many seconds, at next to no cost where it comes at once."""

import asyncio

CHECKS_PER_WAIT = 10
"""A wait is ended at most a tenth of it too late."""
CHECKS_WHEN_CROWDED = 2
"""So many looks a wait may last while others need its place: from a tenth to a fifth of its time."""
Waiter = asyncio.Task[object]


class BodyDeadline:
    """Ends waits that take too long, by cancelling the task that waits, which asks then whether it was for that.

    asyncio.timeout sets and clears a timer for every wait, which costs as much as decoding a check does. Here the waits
    stand in one table that is looked through now and then, and a look is what time is counted in.
    """

    def __init__(self, seconds: float) -> None:
        """Wait so long at most."""
        self._seconds_between_looks = seconds / CHECKS_PER_WAIT
        self._looks = 0
        self._until: dict[Waiter, int] = {}
        """The look at which each wait has taken too long."""
        self._ended: set[Waiter] = set()
        self._is_looking = False

    def begin(self) -> Waiter:
        """Begin to wait; the task that does, which is to say when its wait is over."""
        task = asyncio.current_task()
        if task is None:
            raise RuntimeError("Only a task can be ended while it waits.")
        # The next look may come at once, so one more than make up the wait.
        self._until[task] = self._looks + CHECKS_PER_WAIT + 1
        if not self._is_looking:
            self._is_looking = True
            self._look_later()
        return task

    def is_lost(self, task: Waiter) -> bool:
        """Whether it was cancelled because it waited too long; then it may go on."""
        is_lost = task in self._ended
        if is_lost:
            task.uncancel()
        return is_lost

    def end(self, task: Waiter) -> None:
        """The wait is over, however it ended."""
        del self._until[task]
        if self._ended:
            self._ended.discard(task)

    def hurry(self) -> None:
        """End what has waited for a while, as others need the place; what has just begun goes on."""
        self._end_until(self._looks + CHECKS_PER_WAIT + 1 - CHECKS_WHEN_CROWDED)

    def look(self) -> None:
        """End what has waited too long, and look again later while anything waits."""
        self._looks += 1
        self._end_until(self._looks)
        self._is_looking = bool(self._until)
        if self._is_looking:
            self._look_later()

    def _look_later(self) -> None:
        asyncio.get_running_loop().call_later(self._seconds_between_looks, self.look)

    def _end_until(self, last: int) -> None:
        """End the waits that would be ended at this look or before."""
        for task, until in self._until.items():
            if until <= last and task not in self._ended:
                self._ended.add(task)
                task.cancel()
