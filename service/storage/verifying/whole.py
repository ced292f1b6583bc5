"""All of it: the journal by itself, then what people wrote, then lots one by one."""

from typing import NamedTuple

from sqlalchemy.ext.asyncio import AsyncConnection

from service.storage.database import Database
from service.storage.verifying.chain import head_misfit, walk
from service.storage.verifying.lots import lot_misfits
from service.storage.verifying.misfits import FirstMisfit, Misfit
from service.storage.verifying.people import Told


class Verified(NamedTuple):
    """How many entries there are, the digest of the last one, and the first misfit, None where all fit."""

    entries: int
    head: str
    misfit: Misfit | None


async def verify(database: Database, head: str | None = None) -> Verified:
    """Walk the journal from its first entry to its last, then compare the tables with what it tells.

    head  a digest that was noted before and has to be among them, so that a journal that was cut off is found too

    All of it is read as it was at one moment, so that whoever writes meanwhile is no misfit. What people wrote (grades, keys,
    instruments, decisions) is in memory meanwhile, a few hundred bytes an entry; of lots one at a time, without its documents.
    Raises CatalogueAwayError.
    """
    async with database.one_state() as connection:
        return await verify_in(connection, head)


async def verify_in(connection: AsyncConnection, head: str | None) -> Verified:
    """The same as a transaction sees it."""
    told = Told()
    walked = await walk(connection, head, told.note)
    misfit = walked.misfit or await head_misfit(connection, walked) or await _table_misfit(connection, told)
    return Verified(walked.entries, walked.digest, misfit)


async def _table_misfit(connection: AsyncConnection, told: Told) -> Misfit | None:
    """The first entry that a table contradicts, or a row that no entry tells of."""
    first = FirstMisfit()
    async for misfits in told.misfits(connection):
        first.take(misfits)
    async for misfits in lot_misfits(connection):
        first.take(misfits)
    return first.found
