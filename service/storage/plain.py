"""The few statements of every group of the ledger's writes, given to the database's driver as they stand.

SQLAlchemy makes each statement anew from its parts, sets up what is to be known of its run and takes results apart: some ten
times as long as driver and database take for a statement of 16 rows. What is rare goes through it all the same, in the same
transaction, which a statement of its own must have begun; here is only what every group does.
"""

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any, NamedTuple

from sqlalchemy import BigInteger, Connection, Integer, Table, Text
from sqlalchemy.exc import DBAPIError

ARRAYS = {Text: "text[]", Integer: "integer[]", BigInteger: "bigint[]"}
ERRORS = ("PostgresError", "InterfaceError", "InternalClientError")
"""What asyncpg raises, by its names."""
CUT = frozenset(
    [
        "AdminShutdownError",
        "CannotConnectNowError",
        "ConnectionDoesNotExistError",
        "ConnectionFailureError",
        "CrashShutdownError",
        "InterfaceError",
        "InternalClientError",
        "PostgresConnectionError",
    ]
)
"""Those that tell of a connection that is not there any more, or on its way out."""
Rows = Sequence[Sequence[Any]]


class Plain(NamedTuple):
    """A statement in the words of each database."""

    sqlite: str
    """Takes a row, or is run for each of many."""
    postgresql: str
    """Takes as $1, $2 and so on what `rows` is given, or from `keep` each column of all rows as an array."""


def names_of(table: Table) -> str:
    """The columns of a table, in their order."""
    return ", ".join(f'"{column.name}"' for column in table.columns)


def unnested(table: Table, first: int = 1) -> str:
    """On PostgreSQL the rows of a table from arrays of its columns, the first of which is $1, or that of another number."""
    arrays = (f"${number}::{ARRAYS[type(column.type)]}" for number, column in enumerate(table.columns, start=first))
    return f"SELECT * FROM unnest({', '.join(arrays)}) AS new({names_of(table)})"  # noqa: S608  names of ours


def insertion(table: Table) -> str:
    """On SQLite a row of a table."""
    return f"INSERT INTO {table.name} ({names_of(table)}) VALUES ({', '.join('?' * len(table.columns))})"  # noqa: S608  as above


def rows(connection: Connection, statement: Plain, *values: object) -> Rows:
    """What a statement finds, in a transaction that has begun. Raises DBAPIError."""
    with _told(connection, statement):
        if connection.dialect.name == "sqlite":
            driver = connection.connection.driver_connection
            if isinstance(driver, sqlite3.Connection):
                return driver.execute(statement.sqlite, values).fetchall()
            return connection.exec_driver_sql(statement.sqlite, values).all()
        found: Rows = _asyncpg(connection, "fetch", statement, *values)
        return found


def keep(connection: Connection, statement: Plain, kept: Rows) -> None:
    """Run a statement for these rows, at least one, in a transaction that has begun. Raises DBAPIError."""
    with _told(connection, statement):
        if connection.dialect.name == "sqlite":
            driver = connection.connection.driver_connection
            if isinstance(driver, sqlite3.Connection):
                driver.executemany(statement.sqlite, kept)
            else:
                connection.exec_driver_sql(statement.sqlite, [tuple(row) for row in kept])
        else:
            _asyncpg(connection, "execute", statement, *zip(*kept, strict=True))


def simple(connection: Connection, text: str) -> str:
    """Run statements without values on PostgreSQL; what the last one says it has done. Raises DBAPIError."""
    statement = Plain("", text)
    with _told(connection, statement):
        done: str = _asyncpg(connection, "execute", statement)
        return done


def _asyncpg(connection: Connection, what: str, statement: Plain, *values: object) -> Any:  # noqa: ANN401  as the driver gives it
    """What the asynchronous driver gives."""
    driver: Any = connection.connection.dbapi_connection
    return driver.run_async(lambda raw: getattr(raw, what)(statement.postgresql, *values))


@contextmanager
def _told(connection: Connection, statement: Plain) -> Iterator[None]:
    """Whatever the driver finds wrong as SQLAlchemy tells it, without what the statement was given."""
    module: Any = connection.dialect.loaded_dbapi
    is_embedded = connection.dialect.name == "sqlite"
    errors = (sqlite3.Error,) if is_embedded else tuple(getattr(module.asyncpg, name) for name in ERRORS)
    try:
        yield
    except errors as error:
        text = statement.sqlite if is_embedded else statement.postgresql
        was_cut = not is_embedded and type(error).__name__ in CUT
        raise DBAPIError(text, None, error, hide_parameters=True, connection_invalidated=was_cut) from error
