"""The lock of all writes outside the ledger of lots: catalogue, keys, instruments, decisions about lines."""

from sqlalchemy import select
from sqlalchemy.ext.asyncio import AsyncConnection

from service.storage.database.moments import now_expression
from service.storage.database.tables import catalogue_version


async def lock_catalogue(connection: AsyncConnection) -> int:
    """Lock the catalogue until the transaction ends, and return the database's time in microseconds since 1970."""
    # One lock for all is enough: people, not stations, release grades and issue keys. SQLAlchemy leaves FOR UPDATE out for
    # SQLite, which took its only lock when the transaction began. The clock is read after that, so that moments follow the
    # order of commits.
    await connection.execute(select(catalogue_version.c.version).with_for_update())
    now: int = (await connection.execute(select(now_expression(connection)))).scalar_one()
    return now
