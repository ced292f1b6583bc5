"""Group commit: writes of concurrent callers are queued, and one task stores all queued writes by one durable commit.

A commit takes about as long for many writes as for one. A group is whatever is queued when the previous group is stored, so
no write waits for others to arrive.
"""

import asyncio
import contextlib
from collections import deque
from collections.abc import Awaitable, Callable, Sequence
from typing import Generic, NamedTuple, TypeVar

W = TypeVar("W")
A = TypeVar("A")
# A bound for the parameters of one statement and for the time that a group holds its locks.
MOST_IN_GROUP = 256


class DeferredError(Exception):
    """A write has to wait for the next group, as it needs an earlier write of its own group to be stored."""


class PendingWrite(NamedTuple, Generic[W, A]):
    """A queued write and the future of its result."""

    write: W
    answer: "asyncio.Future[A]"


Store = Callable[[Sequence[W]], Awaitable[Sequence[A | Exception]]]


class GroupCommit(Generic[W, A]):
    """Stores writes in groups; a refused write does not affect the others of its group."""

    def __init__(self, store: Store[W, A]) -> None:
        """Start with an empty queue.

        store  stores a group by one commit and returns a result or an exception for each write, DeferredError to try the write
               again with the next group; an exception that it raises is the result of every write.
        """
        self._store = store
        self._queue: deque[PendingWrite[W, A]] = deque()
        self._task: asyncio.Task[None] | None = None

    async def write(self, write: W) -> A:
        """Queue a write and return its result once it is stored. Raises the exception that refused it."""
        pending = PendingWrite(write, asyncio.get_running_loop().create_future())
        self._queue.append(pending)
        if self._task is None or self._task.done():
            self._task = asyncio.create_task(self._work())
        answer: A = await pending.answer
        return answer

    async def close(self) -> None:
        """Wait until all queued writes are stored."""
        if self._task is not None:
            with contextlib.suppress(asyncio.CancelledError):
                await self._task

    async def _work(self) -> None:
        """Store group after group until the queue is empty."""
        while self._queue:
            group = [self._queue.popleft() for _ in range(min(len(self._queue), MOST_IN_GROUP))]
            # Writes of callers who have gone are stored too: they can't know whether they were, and will repeat them.
            try:
                answers = await self._store([pending.write for pending in group])
            except Exception as error:  # noqa: BLE001  every caller needs a result, whatever the error
                answers = [error] * len(group)
            deferred = [pending for pending, answer in zip(group, answers, strict=True) if isinstance(answer, DeferredError)]
            # In front of what was queued since, so that each lot's writes stay in their order.
            self._queue.extendleft(reversed(deferred))
            for pending, answer in zip(group, answers, strict=True):
                _resolve(pending.answer, answer)


def _resolve(pending: "asyncio.Future[A]", answer: A | Exception) -> None:
    """Resolve a caller's future, unless the write was deferred or the caller has gone."""
    if pending.done() or isinstance(answer, DeferredError):
        return
    if isinstance(answer, Exception):
        pending.set_exception(answer)
    else:
        pending.set_result(answer)
