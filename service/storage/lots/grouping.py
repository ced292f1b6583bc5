"""Group commit: writes of many callers wait in one queue, and one task stores all that wait by one durable commit.

A commit takes about as long for one write as for many. A group is whoever waits when the one before is stored; nobody is
waited for.
"""

import asyncio
import contextlib
from collections import deque
from collections.abc import Awaitable, Callable, Sequence
from typing import Generic, NamedTuple, TypeVar

W = TypeVar("W")
A = TypeVar("A")
MOST_IN_GROUP = 256


class DeferredError(Exception):
    """A write needs what stands before it in its group to be stored first."""


class Waiting(NamedTuple, Generic[W, A]):
    """A write and who waits for its answer."""

    write: W
    answer: "asyncio.Future[A]"


Store = Callable[[Sequence[W]], Awaitable[Sequence[A | Exception]]]


class GroupCommit(Generic[W, A]):
    """Stores writes in groups. One that is refused refuses only itself."""

    def __init__(self, store: Store[W, A]) -> None:
        """Empty.

        store  stores a group by one commit and gives for each an answer or why it is refused: PutOffError to be asked again
               with the next group. What it raises is the answer to all of them.
        """
        self._store = store
        self._queue: deque[Waiting[W, A]] = deque()
        self._task: asyncio.Task[None] | None = None

    async def write(self, write: W) -> A:
        """The answer once the write is stored. Raises what it was refused by."""
        waiting = Waiting(write, asyncio.get_running_loop().create_future())
        self._queue.append(waiting)
        if self._task is None or self._task.done():
            self._task = asyncio.create_task(self._work())
        answer: A = await waiting.answer
        return answer

    async def close(self) -> None:
        """Wait until all that waits is stored."""
        if self._task is not None:
            with contextlib.suppress(asyncio.CancelledError):
                await self._task

    async def _work(self) -> None:
        """Group after group until none waits."""
        while self._queue:
            group = [self._queue.popleft() for _ in range(min(len(self._queue), MOST_IN_GROUP))]
            # A caller who has hung up may have sent his write all the same, and will send it again.
            try:
                answers = await self._store([each.write for each in group])
            except Exception as error:  # noqa: BLE001  whoever waits has to be told, whatever it was
                answers = [error] * len(group)
            put_off = [each for each, answer in zip(group, answers, strict=True) if isinstance(answer, DeferredError)]
            self._queue.extendleft(reversed(put_off))
            for each, answer in zip(group, answers, strict=True):
                _tell(each.answer, answer)


def _tell(waiting: "asyncio.Future[A]", answer: A | Exception) -> None:
    """Give the answer to one who still waits for it."""
    if waiting.done() or isinstance(answer, DeferredError):
        return
    if isinstance(answer, Exception):
        waiting.set_exception(answer)
    else:
        waiting.set_result(answer)
