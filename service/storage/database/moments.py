"""Timestamps as stored integers, and the database's clock, by which all stored times are set."""

from datetime import UTC, datetime, timedelta

from sqlalchemy import ColumnElement, Connection, Integer, literal_column
from sqlalchemy.ext.asyncio import AsyncConnection

from service.ports.catalogue import Moment

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
MICROSECOND = timedelta(microseconds=1)
NOW_SQL = {
    # The database's clock, as those of replicas may differ. SQLite's counts milliseconds, and its 'now' is the same within a
    # statement.
    "sqlite": "CAST(strftime('%s','now') AS INTEGER) * 1000000 + CAST(substr(strftime('%f','now'), 4) AS INTEGER) * 1000",
    # Not now(): that is the start of the transaction, which may have waited for a lock since.
    "postgresql": "CAST(EXTRACT(EPOCH FROM clock_timestamp()) * 1000000 AS BIGINT)",
}


def to_microseconds(moment: Moment) -> int:
    """A moment as whole microseconds since 1970."""
    # Exact, by division of timedeltas: timestamp() would go through a float.
    return (moment - EPOCH) // MICROSECOND


def to_moment(microseconds: int) -> Moment:
    """The moment of a number of microseconds since 1970."""
    return EPOCH + microseconds * MICROSECOND


def now_expression(connection: AsyncConnection | Connection) -> ColumnElement[int]:
    """An SQL expression for the database's clock, in microseconds since 1970."""
    return literal_column(NOW_SQL[connection.dialect.name], Integer)
