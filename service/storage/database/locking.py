"""Whose turn it is to write to the catalogue and to the keys."""

from sqlalchemy import select
from sqlalchemy.ext.asyncio import AsyncConnection

from service.storage.database.moments import now_of
from service.storage.database.tables import catalogue_version


async def lock_catalogue(connection: AsyncConnection) -> int:
    """One writer at a time until the transaction ends, and the moment at which it writes: microseconds since 1970.

    SQLite has taken its lock as the transaction began; PostgreSQL takes that of the one version row. Writing here is rare:
    people release grades and give out keys, not stations.
    """
    await connection.execute(select(catalogue_version.c.version).with_for_update())
    now: int = (await connection.execute(select(now_of(connection)))).scalar_one()
    return now
