"""A timeout for many short waits that costs next to nothing where the wait is short."""

import asyncio

TICKS_PER_WAIT = 10
"""Ticks in the time of a wait, so that a wait ends at most a tenth of its time too late."""
TICKS_WHEN_CROWDED = 2
"""Ticks after which a wait may be ended early: from a tenth to a fifth of its time, as the first tick may come at once."""
WaitingTask = asyncio.Task[object]


class BodyDeadline:
    """Ends waits that take too long by cancelling the waiting task, which then asks `is_expired` why it was cancelled.

    asyncio.timeout sets and clears a timer for every wait, which costs as much as decoding a check. Here all waits are in one
    table that a periodic tick goes through, and time is counted in ticks.
    """

    def __init__(self, seconds: float) -> None:
        """Let each wait take at most this many seconds."""
        self._seconds_between_ticks = seconds / TICKS_PER_WAIT
        self._ticks = 0
        self._expires_at_tick: dict[WaitingTask, int] = {}
        """The number of the tick at which each wait expires."""
        self._expired: set[WaitingTask] = set()
        self._is_ticking = False

    def begin(self) -> WaitingTask:
        """Start the wait of the current task and return that task, to be given to `end`. Raises RuntimeError without a task."""
        task = asyncio.current_task()
        if task is None:
            raise RuntimeError("Only a task can be ended while it waits.")
        # The next tick may come at once, so one more than the wait has.
        self._expires_at_tick[task] = self._ticks + TICKS_PER_WAIT + 1
        if not self._is_ticking:
            self._is_ticking = True
            self._schedule_tick()
        return task

    def is_expired(self, task: WaitingTask) -> bool:
        """Whether the task was cancelled because its wait expired; then the cancellation is undone and it may go on."""
        is_expired = task in self._expired
        if is_expired:
            # Without this, an enclosing asyncio.timeout or TaskGroup would take the cancellation for its own.
            task.uncancel()
        return is_expired

    def end(self, task: WaitingTask) -> None:
        """End the wait, whatever its outcome."""
        del self._expires_at_tick[task]
        if self._expired:
            self._expired.discard(task)

    def expire_early(self) -> None:
        """Expire the waits that have lasted at least TICKS_WHEN_CROWDED ticks, as others need their places."""
        self._expire_until(self._ticks + TICKS_PER_WAIT + 1 - TICKS_WHEN_CROWDED)

    def tick(self) -> None:
        """Expire the waits that are over time, and schedule the next tick while any wait is left."""
        self._ticks += 1
        self._expire_until(self._ticks)
        self._is_ticking = bool(self._expires_at_tick)
        if self._is_ticking:
            self._schedule_tick()

    def _schedule_tick(self) -> None:
        asyncio.get_running_loop().call_later(self._seconds_between_ticks, self.tick)

    def _expire_until(self, last: int) -> None:
        """Expire the waits that would expire at this tick or earlier."""
        for task, until in self._expires_at_tick.items():
            if until <= last and task not in self._expired:
                self._expired.add(task)
                task.cancel()
