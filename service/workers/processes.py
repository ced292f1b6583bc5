"""Work on all cores of this machine: processes that are there while there is work, and never outlive the service."""

import asyncio
import multiprocessing
import os
import signal
import threading
from collections.abc import AsyncIterator, Callable
from concurrent.futures import BrokenExecutor, ProcessPoolExecutor
from contextlib import asynccontextmanager, closing
from multiprocessing.connection import Connection
from typing import TypeVar

from service.ports.workers import WorkersAwayError
from service.workers.limit import PIECES_EACH, TeamLimit

P = TypeVar("P")
R = TypeVar("R")
YIELDING = 10
"""How much a worker steps back behind the process that answers checks (nice)."""


class Processes:
    """Teams of as many processes as there are cores."""

    def __init__(self, processes: int | None = None) -> None:
        """Of so many; None for one a core that this process may use."""
        self._processes = processes or _cores()
        self._turns = TeamLimit()

    @asynccontextmanager
    async def team(self) -> AsyncIterator["ProcessTeam"]:
        """A team. Its processes start with the first pieces, and end, whatever they do, as soon as it is left."""
        with self._turns.taken():
            async with _pool(self._processes) as pool:
                yield ProcessTeam(pool, self._processes * PIECES_EACH)


class ProcessTeam:
    """Some processes."""

    def __init__(self, pool: ProcessPoolExecutor, at_once: int) -> None:
        """Of this pool; so many pieces keep it busy."""
        self._pool = pool
        self.at_once = at_once

    def begin(self, work: Callable[[P], R], piece: P) -> "asyncio.Future[R]":
        """What becomes of a piece."""
        return asyncio.ensure_future(self._done(work, piece))

    async def _done(self, work: Callable[[P], R], piece: P) -> R:
        try:
            return await asyncio.get_running_loop().run_in_executor(self._pool, work, piece)
        except BrokenExecutor as error:
            text = "A process that worked on it was ended from outside, perhaps for want of memory. Ask again."
            raise WorkersAwayError(text) from error


def _cores() -> int:
    """That this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@asynccontextmanager
async def _pool(processes: int) -> AsyncIterator[ProcessPoolExecutor]:
    """Processes that hold the other end of a line to us: when it is cut, be it because we are gone, they end at once."""
    # Not by fork: that would copy our locks as they happen to be, with connections and threads that nobody goes on with.
    context = multiprocessing.get_context("spawn")
    theirs, ours = context.Pipe(duplex=False)
    with closing(theirs), closing(ours):
        pool = ProcessPoolExecutor(processes, context, _begin, (theirs,))
        try:
            yield pool
        finally:
            ours.close()
            await asyncio.to_thread(pool.shutdown, cancel_futures=True)


def _begin(line: Connection) -> None:
    """In a new process: leave the signals of a terminal to the service, step back behind it, and watch the line."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    os.nice(YIELDING)
    threading.Thread(target=_end_with, args=(line,), daemon=True, name="line to the service").start()


def _end_with(line: Connection) -> None:
    """End this process as soon as the line is cut; nothing is ever said on it."""
    line.poll(None)
    os._exit(0)
