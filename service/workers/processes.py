"""Worker pools of local processes, which exist while a pool is open and never outlive the service."""

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
from service.workers.limit import PIECES_EACH, PoolLimit

P = TypeVar("P")
R = TypeVar("R")
NICENESS = 10
"""Niceness of worker processes, so that the process that answers checks goes first."""


class Processes:
    """Pools with one process for each core."""

    def __init__(self, processes: int | None = None) -> None:
        """Set the number of processes of a pool; None for one for each core that this process may use."""
        self._processes = processes or _cores()
        self._limit = PoolLimit()

    @asynccontextmanager
    async def pool(self) -> AsyncIterator["ProcessPool"]:
        """Open a pool; its processes start with the first pieces and are ended when it is left. Raises WorkersBusyError."""
        with self._limit.acquired():
            async with _pool(self._processes) as pool:
                yield ProcessPool(pool, self._processes * PIECES_EACH)


class ProcessPool:
    """A pool of local processes."""

    def __init__(self, pool: ProcessPoolExecutor, capacity: int) -> None:
        """Wrap an executor; `capacity` is the number of pieces in flight that keeps it busy."""
        self._pool = pool
        self.capacity = capacity

    def submit(self, work: Callable[[P], R], piece: P) -> "asyncio.Future[R]":
        """Submit a piece; the future raises WorkersAwayError if a process is ended from outside."""
        return asyncio.ensure_future(self._result(work, piece))

    async def _result(self, work: Callable[[P], R], piece: P) -> R:
        try:
            return await asyncio.get_running_loop().run_in_executor(self._pool, work, piece)
        except BrokenExecutor as error:
            text = "A worker process was ended from outside, perhaps as memory ran out. Try again."
            raise WorkersAwayError(text) from error


def _cores() -> int:
    """Number of cores that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@asynccontextmanager
async def _pool(processes: int) -> AsyncIterator[ProcessPoolExecutor]:
    """Open an executor whose processes end as soon as the parent's end of a pipe is closed, even if the service is killed."""
    # Not fork: it copies locks in whatever state they are, and connections whose threads don't exist in the child.
    context = multiprocessing.get_context("spawn")
    theirs, ours = context.Pipe(duplex=False)
    with closing(theirs), closing(ours):
        pool = ProcessPoolExecutor(processes, context, _prepare, (theirs,))
        try:
            yield pool
        finally:
            # Closed before the shutdown, which would otherwise wait for pieces that are running.
            ours.close()
            await asyncio.to_thread(pool.shutdown, cancel_futures=True)


def _prepare(pipe: Connection) -> None:
    """Prepare a new worker process: ignore Ctrl-C, which the service handles, lower the priority, and watch the pipe."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    os.nice(NICENESS)
    threading.Thread(target=_exit_when_closed, args=(pipe,), daemon=True, name="pipe to the service").start()


def _exit_when_closed(pipe: Connection) -> None:
    """End this process as soon as the pipe is closed; nothing is ever sent through it."""
    pipe.poll(None)
    # Not sys.exit: in a thread that ends only the thread, while the main one may be in the middle of a piece.
    os._exit(0)
