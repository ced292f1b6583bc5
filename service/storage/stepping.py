"""A transaction in few steps, each a plain function of a connection, by a connection that is kept for the ledger's groups.

SQLite's asynchronous driver changes threads four times for each statement, which for a group of the ledger's writes takes
longer than the statements themselves and the commit. Here a writer's thread takes a whole step; between steps the event loop
decides. On PostgreSQL a step runs over the asynchronous driver, so that what is written is written once for both.

The first step begins the transaction and takes its locks, the last one commits it. A process stores one group at a time: one
connection is enough, and is not looked for in a pool, tried and given back each time. It may have been cut since it was used
last, which the first step finds out, and takes another one then.
"""

import asyncio
import contextlib
from collections.abc import AsyncIterator, Awaitable, Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from typing import Any, Concatenate, ParamSpec, Protocol, TypeVar

from sqlalchemy import Connection, create_engine, event
from sqlalchemy.engine import URL
from sqlalchemy.exc import DBAPIError, InvalidRequestError, SQLAlchemyError
from sqlalchemy.ext.asyncio import AsyncConnection, AsyncEngine

from service.storage.plain import simple

P = ParamSpec("P")
R = TypeVar("R")
Prepare = Callable[..., object]
Run = Callable[..., Awaitable[Any]]
"""Takes a function of a connection, and further arguments of it."""


class Steps:
    """A transaction, which its last step commits; without one it comes to nothing."""

    def __init__(self, begin: Run, run: Run, commit: Prepare) -> None:
        """Not begun yet.

        begin   begins, and gives what a function of the connection and further arguments gives
        run     gives the same of further ones; one at a time
        commit  a function of the connection
        """
        self._begin, self._run, self._commit = begin, run, commit
        self._has_begun = False

    async def take(self, step: Callable[Concatenate[Connection, P], R], /, *args: P.args, **kwargs: P.kwargs) -> R:
        """What a step gives that is taken on the connection; nothing else is done on it meanwhile.

        The first one is taken once more, on another connection, where that was cut before it was done.
        """
        run, self._has_begun = self._run if self._has_begun else self._begin, True
        return await run(step, *args, **kwargs)  # type: ignore[no-any-return]

    async def take_last(self, step: Callable[Concatenate[Connection, P], R], /, *args: P.args, **kwargs: P.kwargs) -> R:
        """The same, and it is durable when this returns. It is taken once."""
        if not self._has_begun:
            await self.take(_nothing)
        return await self._run(self._committed, step, *args, **kwargs)  # type: ignore[no-any-return]

    def _committed(
        self, connection: Connection, step: Callable[Concatenate[Connection, P], R], /, *args: P.args, **kwargs: P.kwargs
    ) -> R:
        """What the last step gives."""
        found = step(connection, *args, **kwargs)
        self._commit(connection)
        return found


def _nothing(_connection: Connection) -> None:
    """A first step that only begins."""


class Writer(Protocol):
    """The connection by which a process writes groups."""

    def writing(self, locks: Sequence[int] | None) -> contextlib.AbstractAsyncContextManager[Steps]:
        """A transaction; one at a time.

        locks  which no other transaction holds meanwhile, 64 bits each; where there are several, in their order. None on a
               server: each statement is a transaction of its own
        """

    async def close(self) -> None:
        """End the connection."""


class EmbeddedWriter:
    """The one thread of a process that writes an SQLite file step by step, and its connection."""

    def __init__(self, url: URL, timeout_s: float, prepare: Prepare, begin: Prepare) -> None:
        """Connect when it is first asked.

        prepare, begin  what is done with each connection, and with each transaction
        """
        self._thread, self._turn = ThreadPoolExecutor(1, "sqlite writer"), asyncio.Lock()
        self._connection: Connection | None = None
        self._engine = create_engine(
            url.set(drivername="sqlite"), connect_args={"timeout": timeout_s}, pool_size=1, max_overflow=0, hide_parameters=True
        )
        event.listen(self._engine, "connect", prepare)
        event.listen(self._engine, "begin", begin)

    @contextlib.asynccontextmanager
    async def writing(self, locks: Sequence[int] | None) -> AsyncIterator[Steps]:
        """A transaction; one at a time. Whoever begins one has the whole file to himself, so there is nothing to lock."""
        assert locks is not None
        async with self._turn:
            try:
                yield Steps(partial(self._run, self._first), partial(self._run, self._step), Connection.commit)
            finally:
                # Behind whatever step is still under way in the thread.
                if self._connection is None or self._connection.in_transaction():
                    await asyncio.shield(self._run(self._drop))

    async def close(self) -> None:
        """End the connection and the thread."""
        await self._run(self._drop)
        await self._run(self._engine.dispose)
        self._thread.shutdown()

    def _first(self, way: Callable[..., R], *args: Any, **kwargs: Any) -> R:  # noqa: ANN401  whatever the step takes
        if self._connection is None:
            self._connection = self._engine.connect()
        self._connection.begin()
        return way(self._connection, *args, **kwargs)

    def _step(self, way: Callable[..., R], *args: Any, **kwargs: Any) -> R:  # noqa: ANN401  as above
        assert self._connection is not None
        return way(self._connection, *args, **kwargs)

    def _drop(self) -> None:
        if self._connection is not None:
            self._connection.close()
        self._connection = None

    def _run(self, work: Callable[..., R], *args: Any, **kwargs: Any) -> "asyncio.Future[R]":  # noqa: ANN401  as above
        return asyncio.get_running_loop().run_in_executor(self._thread, partial(work, *args, **kwargs))


class ServerWriter:
    """The one connection of a process that writes groups to a server."""

    def __init__(self, engine: AsyncEngine) -> None:
        """Connect when it is first asked.

        engine  without a pool
        """
        self._engine, self._turn = engine.execution_options(isolation_level="AUTOCOMMIT"), asyncio.Lock()
        self._connection: AsyncConnection | None = None

    @contextlib.asynccontextmanager
    async def writing(self, locks: Sequence[int] | None) -> AsyncIterator[Steps]:
        """A transaction, or statements that are each one of their own; one at a time."""
        begin, commit = (Connection.begin, Connection.commit) if locks is None else (partial(_begin, locks=locks), _commit)
        async with self._turn:
            try:
                yield Steps(partial(self._first, begin), self._step, commit)
            finally:
                connection = self._connection
                if connection and (connection.closed or connection.invalidated or connection.in_transaction()):
                    await asyncio.shield(self._drop())

    async def close(self) -> None:
        """End the connection."""
        await self._drop()
        await self._engine.dispose()

    async def _first(self, begin: Prepare, way: Callable[..., R], *args: Any, **kwargs: Any) -> R:  # noqa: ANN401  as above
        """What a first step gives, which keeps nothing yet; on a new connection where the one there was cut."""
        if self._connection is not None:
            try:
                return await self._step(_begun, begin, way, *args, **kwargs)
            except (SQLAlchemyError, OSError) as error:
                if not _was_cut(error):
                    raise
                await asyncio.shield(self._drop())
        self._connection = await self._engine.connect()
        return await self._step(_begun, begin, way, *args, **kwargs)

    async def _step(self, way: Callable[..., R], *args: Any, **kwargs: Any) -> R:  # noqa: ANN401  as above
        assert self._connection is not None
        return await self._connection.run_sync(way, *args, **kwargs)

    async def _drop(self) -> None:
        """Forget the connection, which rolls back what is under way, be it by the server that finds it gone."""
        connection, self._connection = self._connection, None
        if connection is not None:
            await connection.invalidate()
            await connection.close()


def _begun(connection: Connection, begin: Prepare, way: Callable[..., R], *args: Any, **kwargs: Any) -> R:  # noqa: ANN401  whatever the step takes
    begin(connection)
    return way(connection, *args, **kwargs)


def _begin(connection: Connection, locks: Sequence[int]) -> None:
    """Begin on a server, and take locks, by one message: each way there and back costs more than what is done there."""
    connection.begin()
    simple(connection, f"BEGIN; SELECT pg_advisory_xact_lock(k) FROM unnest('{{{','.join(map(str, locks))}}}'::bigint[]) AS k")  # noqa: S608  numbers


def _was_cut(error: SQLAlchemyError | OSError) -> bool:
    """Whether there was no connection any more; a time that was up is none of that, and is not waited for twice."""
    if isinstance(error, OSError):
        return not isinstance(error, TimeoutError)
    return isinstance(error, DBAPIError) and error.connection_invalidated


def _commit(connection: Connection) -> None:
    """Commit on a server."""
    if simple(connection, "COMMIT") != "COMMIT":
        # A server rolls back what has failed before, and calls that done.
        raise InvalidRequestError("The transaction has failed before, so that it can't be committed.")
    connection.commit()
