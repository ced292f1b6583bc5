"""A transaction in few steps, each a plain function of a connection.

SQLite's asynchronous driver changes threads four times for each statement, which for a group of the ledger's writes takes
longer than the statements themselves and the commit. Here a writer's thread takes a whole step; between steps the event loop
decides. On PostgreSQL a step runs over the asynchronous driver, so that what is written is written once for both.
"""

import asyncio
import contextlib
from collections.abc import AsyncIterator, Callable
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from typing import Any, Concatenate, ParamSpec, Protocol, TypeVar

from sqlalchemy import Connection, create_engine, event
from sqlalchemy.engine import URL

P = ParamSpec("P")
R = TypeVar("R")
Prepare = Callable[..., None]


class Stepping(Protocol):
    """A transaction under way."""

    async def run_sync(self, step: Callable[Concatenate[Connection, P], R], /, *args: P.args, **kwargs: P.kwargs) -> R:
        """What a step gives that is taken on the connection; nothing else is done on it meanwhile."""


class Writer:
    """The one thread of a process that writes an SQLite file step by step, and its connection."""

    def __init__(self, url: URL, timeout_s: float, prepare: Prepare, begin: Prepare) -> None:
        """Connect when it is first asked.

        prepare, begin  what is done with each connection, and with each transaction
        """
        self._thread, self._turn = ThreadPoolExecutor(1, "sqlite writer"), asyncio.Lock()
        self._engine = create_engine(
            url.set(drivername="sqlite"), connect_args={"timeout": timeout_s}, pool_size=1, max_overflow=0, hide_parameters=True
        )
        event.listen(self._engine, "connect", prepare)
        event.listen(self._engine, "begin", begin)

    @contextlib.asynccontextmanager
    async def writing(self) -> AsyncIterator[Stepping]:
        """A transaction that is committed at its end, or not at all."""
        async with self._turn:
            connection = await self._run(self._begun)
            try:
                yield _Steps(self._run, connection)
            except BaseException:
                # Behind whatever step is still under way in the thread.
                await asyncio.shield(self._run(connection.close))
                raise
            await self._run(_committed, connection)

    async def close(self) -> None:
        """End the connection and the thread."""
        await self._run(self._engine.dispose)
        self._thread.shutdown()

    def _begun(self) -> Connection:
        connection = self._engine.connect()
        connection.begin()
        return connection

    def _run(self, work: Callable[..., R], *args: Any) -> "asyncio.Future[R]":  # noqa: ANN401  whatever the work takes
        return asyncio.get_running_loop().run_in_executor(self._thread, partial(work, *args))


class _Steps:
    """A transaction in the writer's thread."""

    def __init__(self, run: Callable[..., "asyncio.Future[Any]"], connection: Connection) -> None:
        self._run, self._connection = run, connection

    async def run_sync(self, step: Callable[Concatenate[Connection, P], R], /, *args: P.args, **kwargs: P.kwargs) -> R:
        """What a step gives that is taken in the thread."""
        return await self._run(partial(step, self._connection, *args, **kwargs))  # type: ignore[no-any-return]


def _committed(connection: Connection) -> None:
    with connection:
        connection.commit()
