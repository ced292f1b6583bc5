"""The journal: who changed what and when, each entry chained to the previous one by SHA-256.

An entry is written in the transaction of the change that it records, so neither exists without the other.
"""

from collections.abc import Mapping, Sequence

from msgspec import Raw
from sqlalchemy import Connection, insert, select, update
from sqlalchemy.ext.asyncio import AsyncConnection

from service.engine.documents import canonical_line, digest_of
from service.ports.catalogue import Moment
from service.storage.database import Database, journal, journal_head, to_moment

HEAD = select(journal_head.c.number, journal_head.c.digest).with_for_update()
BEFORE_THE_FIRST = "sha256:" + "0" * 64
"""The digest that the first entry names as the previous one."""


def timestamp(moment: Moment) -> str:
    """A moment as text for entries, to the microsecond: `2026-11-25T00:00:00.000000Z`."""
    return moment.replace(tzinfo=None).isoformat(timespec="microseconds") + "Z"


async def append(connection: AsyncConnection, now: int, by: str, *changes: Mapping[str, object]) -> None:
    """Append an entry for each change, in order, within the transaction of `connection`.

    now      microseconds since 1970, by the database's clock
    by       name of the person or station that made them
    changes  members of each entry: `what` was done, and to what

    Locks the journal's head until the transaction ends, so every other lock has to be taken before.
    """
    await connection.run_sync(append_all, now, [(by, change) for change in changes])


def append_all(connection: Connection, now: int, changes: Sequence[tuple[str, Mapping[str, object]]]) -> None:
    """Append entries for changes made by several callers, as (name, members) each; otherwise like `append`."""
    if not changes:
        return
    # FOR UPDATE on PostgreSQL: two transactions that read the same head would both append the same number.
    number, digest = connection.execute(HEAD).one()
    at, entries = timestamp(to_moment(now)), []
    for by, change in changes:
        number += 1
        content = canonical_line({**change, "number": number, "at": at, "by": by, "previous": digest})
        digest = digest_of(content)
        entries.append({"number": number, "entry": content.decode(), "digest": digest})
    connection.execute(insert(journal), entries)
    connection.execute(update(journal_head), {"number": number, "digest": digest})


class DatabaseJournal:
    """The Journal port over a database."""

    def __init__(self, database: Database) -> None:
        """Use a database whose tables exist."""
        self._database = database

    async def entries(self, after: int, limit: int) -> Sequence[tuple[Raw, str]]:
        """Return at most `limit` entries with numbers above `after`, in order: (stored bytes, digest) each."""
        query = select(journal.c.entry, journal.c.digest).where(journal.c.number > after)
        async with self._database.reading() as connection:
            found = await connection.execute(query.order_by(journal.c.number).limit(limit))
            return [(Raw(row.entry.encode()), row.digest) for row in found]
