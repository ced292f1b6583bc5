"""The journal: who changed what and when, each entry chained to the one before by SHA-256.

An entry is written in the transaction of the change that it tells of, so that there is neither without the other.
"""

from collections.abc import Mapping, Sequence

from msgspec import Raw
from sqlalchemy import Connection, insert, select, update
from sqlalchemy.ext.asyncio import AsyncConnection

from service.engine.documents import canonical_line, digest_of
from service.ports.catalogue import Moment
from service.storage.database import Database, journal, journal_head, moment

HEAD = select(journal_head.c.number, journal_head.c.digest).with_for_update()
BEFORE_THE_FIRST = "sha256:" + "0" * 64
"""What the first entry calls the one before it."""


def in_entry(moment: Moment) -> str:
    """A moment as entries have it, to the microsecond: `2026-11-25T00:00:00.000000Z`."""
    return moment.replace(tzinfo=None).isoformat(timespec="microseconds") + "Z"


async def append(connection: AsyncConnection, now: int, by: str, *changes: Mapping[str, object]) -> None:
    """Write an entry for each change, in their order, in the transaction of `connection`.

    now      microseconds since 1970, by the database's clock
    by       the name of whoever made them
    changes  each with `what` it was, and what it was about

    Locks the journal's head until the transaction ends, so take every other lock before.
    """
    await connection.run_sync(append_all, now, [(by, change) for change in changes])


def append_all(connection: Connection, now: int, changes: Sequence[tuple[str, Mapping[str, object]]]) -> None:
    """The same of changes that several made, each with the name of who made it."""
    if not changes:
        return
    number, digest = connection.execute(HEAD).one()
    at, entries = in_entry(moment(now)), []
    for by, change in changes:
        number += 1
        content = canonical_line({**change, "number": number, "at": at, "by": by, "previous": digest})
        digest = digest_of(content)
        entries.append({"number": number, "entry": content.decode(), "digest": digest})
    connection.execute(insert(journal), entries)
    connection.execute(update(journal_head), {"number": number, "digest": digest})


class DatabaseJournal:
    """The journal as it is read."""

    def __init__(self, database: Database) -> None:
        """Read it there."""
        self._database = database

    async def entries(self, after: int, limit: int) -> Sequence[tuple[Raw, str]]:
        """At most so many entries behind this number, in their order: each as it is kept, and its digest."""
        query = select(journal.c.entry, journal.c.digest).where(journal.c.number > after)
        async with self._database.reading() as connection:
            found = await connection.execute(query.order_by(journal.c.number).limit(limit))
            return [(Raw(row.entry.encode()), row.digest) for row in found]
