"""Verification of the whole database: the journal, then rows by their entries, then lots one by one."""

from typing import NamedTuple

from sqlalchemy.ext.asyncio import AsyncConnection

from service.storage.database import Database
from service.storage.verifying.authored import DescribedRows
from service.storage.verifying.chain import head_mismatch, walk
from service.storage.verifying.lots import lot_mismatches
from service.storage.verifying.mismatches import FirstMismatch, Mismatch


class Verified(NamedTuple):
    """Number of entries, digest of the last one, and the first mismatch; None if everything agrees."""

    entries: int
    head: str
    mismatch: Mismatch | None


async def verify(database: Database, head: str | None = None) -> Verified:
    """Verify the journal from its first entry to its last, then all tables against it.

    head  a digest noted earlier that one of the entries must have, so that a journal that was cut off is found too

    Reads one snapshot, so that concurrent writes are no mismatch. Entries of grades, keys, instruments and decisions are held
    in memory, a few hundred bytes each; of lots one at a time, without its documents. Raises CatalogueAwayError.
    """
    async with database.snapshot() as connection:
        return await verify_in(connection, head)


async def verify_in(connection: AsyncConnection, head: str | None) -> Verified:
    """Verify within a transaction; otherwise like `verify`."""
    described = DescribedRows()
    walked = await walk(connection, head, described.note)
    mismatch = walked.mismatch or await head_mismatch(connection, walked) or await _table_mismatch(connection, described)
    return Verified(walked.entries, walked.digest, mismatch)


async def _table_mismatch(connection: AsyncConnection, described: DescribedRows) -> Mismatch | None:
    """Return the first mismatch of the tables: by an entry, else a row without one."""
    first = FirstMismatch()
    async for mismatches in described.mismatches(connection):
        first.take(mismatches)
    async for mismatches in lot_mismatches(connection):
        first.take(mismatches)
    return first.found
