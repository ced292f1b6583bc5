"""Worker pools on a Dask cluster, which has this release installed and is trusted like this machine."""

import asyncio
import importlib
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from typing import Any, TypeVar

from service.ports.workers import WorkersAwayError
from service.usecases.threads import run_in_thread
from service.workers.limit import PIECES_EACH, PoolLimit

P = TypeVar("P")
R = TypeVar("R")
SECONDS_TO_CONNECT = 5
SECONDS_BETWEEN_LOOKS = 2
"""Interval at which a waiting piece checks that the cluster still has workers."""
NO_WORKERS = "The Dask cluster has no workers. Start some, or remove MARKERYARN_DASK_SCHEDULER; then try again."


class Cluster:
    """Pools of all workers of a Dask cluster."""

    def __init__(self, scheduler: str) -> None:
        """Store the scheduler's address; the connection is made when a pool is opened."""
        self._scheduler = scheduler
        self._limit = PoolLimit()

    @asynccontextmanager
    async def pool(self) -> AsyncIterator["ClusterPool"]:
        """Open a pool; leaving it cancels unfinished pieces. Raises WorkersBusyError, WorkersAwayError."""
        with self._limit.acquired():
            # Half a second, so at first use and in a thread: the one that also reads pint's units, as pint imports parts of
            # Dask, and two threads that import one package at the same time see it half loaded.
            dask = await run_in_thread(importlib.import_module, "distributed")
            try:
                client = await dask.Client(self._scheduler, asynchronous=True, set_as_default=False, timeout=SECONDS_TO_CONNECT)
            except OSError as error:
                text = f"The Dask scheduler at {self._scheduler} does not answer. Start it, or try again in a moment."
                raise WorkersAwayError(text) from error
            try:
                workers = sum((await client.ncores()).values())
                if not workers:
                    raise WorkersAwayError(NO_WORKERS)
                yield ClusterPool(client, (dask.client.FutureCancelledError, dask.KilledWorker, OSError), workers * PIECES_EACH)
            finally:
                await client.close()


class ClusterPool:
    """All workers of a cluster, through one client."""

    def __init__(self, client: Any, losses: tuple[type[BaseException], ...], capacity: int) -> None:  # Dask has no types
        """Wrap a client.

        losses    Dask's errors for workers that are lost
        capacity  number of pieces in flight that keeps all workers busy
        """
        self._client, self._losses = client, losses
        self.capacity = capacity

    def submit(self, work: Callable[[P], R], piece: P) -> "asyncio.Future[R]":
        """Submit a piece; the future raises WorkersAwayError where the workers are lost."""
        return asyncio.ensure_future(self._result(work, piece))

    async def _result(self, work: Callable[[P], R], piece: P) -> R:
        # pure=False: otherwise Dask would hash each piece, up to some MiB, to look for an equal one.
        remote = self._client.submit(work, piece, pure=False)
        result: asyncio.Future[R] = asyncio.ensure_future(_awaited(remote))
        try:
            # Without workers Dask keeps a piece waiting for ever, in case new ones join.
            while not result.done():
                await asyncio.wait({result}, timeout=SECONDS_BETWEEN_LOOKS)
                if not result.done() and not await self._client.ncores():
                    raise WorkersAwayError(NO_WORKERS)
            return result.result()
        except self._losses as error:
            text = "The Dask cluster has lost this work. Try again."
            raise WorkersAwayError(text) from error
        finally:
            result.cancel()
            remote.release()


async def _awaited(remote: Any) -> Any:
    return await remote
