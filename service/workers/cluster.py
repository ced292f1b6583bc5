"""Work on the machines of a Dask cluster, which has this release installed and is trusted as this machine is."""

import asyncio
import importlib
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from typing import Any, TypeVar

from service.ports.workers import WorkersAwayError
from service.usecases.threads import run_in_thread
from service.workers.limit import PIECES_EACH, TeamLimit

P = TypeVar("P")
R = TypeVar("R")
SECONDS_TO_CONNECT = 5
SECONDS_BETWEEN_LOOKS = 2
"""At whether the cluster still has workers, while a piece is waited for."""
NO_WORKERS = "The Dask cluster has no workers. Start some, or leave MARKERYARN_DASK_SCHEDULER out; then ask again."


class Cluster:
    """Teams that are all workers of a cluster."""

    def __init__(self, scheduler: str) -> None:
        """Of the cluster whose scheduler is at this address; nothing is connected before there is work."""
        self._scheduler = scheduler
        self._turns = TeamLimit()

    @asynccontextmanager
    async def team(self) -> AsyncIterator["ClusterTeam"]:
        """A team; what is not done when it is left is taken back."""
        with self._turns.taken():
            # Half a second, which checks should not wait, and nobody else should pay for. By the one thread that reads pint's
            # units too: pint imports parts of Dask, and two threads that import one package see half of it.
            dask = await run_in_thread(importlib.import_module, "distributed")
            try:
                client = await dask.Client(self._scheduler, asynchronous=True, set_as_default=False, timeout=SECONDS_TO_CONNECT)
            except OSError as error:
                text = f"The Dask scheduler at {self._scheduler} does not answer. Start it, or ask again in a moment."
                raise WorkersAwayError(text) from error
            try:
                workers = sum((await client.ncores()).values())
                if not workers:
                    raise WorkersAwayError(NO_WORKERS)
                yield ClusterTeam(client, (dask.client.FutureCancelledError, dask.KilledWorker, OSError), workers * PIECES_EACH)
            finally:
                await client.close()


class ClusterTeam:
    """All workers of a cluster, as one client of it sees them."""

    def __init__(self, client: Any, losses: tuple[type[BaseException], ...], at_once: int) -> None:  # Dask has no types
        """By this client; `losses` are raised where workers are lost, and so many pieces keep them busy."""
        self._client, self._losses = client, losses
        self.at_once = at_once

    def begin(self, work: Callable[[P], R], piece: P) -> "asyncio.Future[R]":
        """What becomes of a piece."""
        return asyncio.ensure_future(self._done(work, piece))

    async def _done(self, work: Callable[[P], R], piece: P) -> R:
        there = self._client.submit(work, piece, pure=False)
        result: asyncio.Future[R] = asyncio.ensure_future(_result(there))
        try:
            while not result.done():
                await asyncio.wait({result}, timeout=SECONDS_BETWEEN_LOOKS)
                if not result.done() and not await self._client.ncores():
                    raise WorkersAwayError(NO_WORKERS)
            return result.result()
        except self._losses as error:
            text = "The Dask cluster has lost what it worked on. Ask again."
            raise WorkersAwayError(text) from error
        finally:
            result.cancel()
            there.release()


async def _result(there: Any) -> Any:  # what the work gives
    return await there
