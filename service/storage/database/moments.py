"""Moments as the tables hold them, and the database's own clock, by which all that is in force goes."""

from datetime import UTC, datetime, timedelta

from sqlalchemy import ColumnElement, Connection, Integer, literal_column
from sqlalchemy.ext.asyncio import AsyncConnection

from service.ports.catalogue import Moment

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
MICROSECOND = timedelta(microseconds=1)
NOW = {
    # SQLite's clock counts milliseconds; its 'now' is one moment for all of a statement.
    "sqlite": "CAST(strftime('%s','now') AS INTEGER) * 1000000 + CAST(substr(strftime('%f','now'), 4) AS INTEGER) * 1000",
    "postgresql": "CAST(EXTRACT(EPOCH FROM clock_timestamp()) * 1000000 AS BIGINT)",
}


def stored(moment: Moment) -> int:
    """Whole microseconds since 1970."""
    return (moment - EPOCH) // MICROSECOND


def moment(stored: int) -> Moment:
    """The moment that so many microseconds since 1970 are."""
    return EPOCH + stored * MICROSECOND


def now_of(connection: AsyncConnection | Connection) -> ColumnElement[int]:
    """The database's clock as an expression, in microseconds since 1970."""
    return literal_column(NOW[connection.dialect.name], Integer)
