"""The journal: who changed what and when, each entry chained to the one before by SHA-256.

An entry is written in the transaction of the change that it tells of, so that there is neither without the other.
"""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from msgspec import Raw
from sqlalchemy import Connection, select
from sqlalchemy.ext.asyncio import AsyncConnection

from service.engine.digests import canonical_line, digest_of
from service.ports import Moment
from service.storage.connecting import Database
from service.storage.moments import moment
from service.storage.plain import Plain, insertion, keep, names_of, rows, unnested
from service.storage.tables import journal

HEAD = Plain("SELECT number, digest FROM journal_head", "SELECT number, digest FROM journal_head FOR UPDATE")
APPEND = Plain(
    insertion(journal),
    f"WITH new AS ({unnested(journal)}), "  # noqa: S608  names of ours
    "moved AS (UPDATE journal_head SET number = last.number, digest = last.digest "
    "FROM (SELECT number, digest FROM new ORDER BY number DESC LIMIT 1) AS last) "
    f"INSERT INTO journal ({names_of(journal)}) SELECT * FROM new",
)
"""Entries, and on PostgreSQL the head behind them, at once."""
MOVE = Plain("UPDATE journal_head SET number = ?, digest = ?", "")
BEFORE_THE_FIRST = "sha256:" + "0" * 64
"""What the first entry calls the one before it."""


Entry = tuple[int, str, str]
"""A row of the journal: its number, what it says, and the digest of that."""


class Head(NamedTuple):
    """The last entry; 0 and zeros before the first."""

    number: int
    digest: str


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
    if changes:
        append_behind(connection, head_of(connection), now, changes)


def head_of(connection: Connection) -> Head:
    """The last entry, locked until the transaction ends."""
    return Head(*rows(connection, HEAD)[0])


def append_behind(connection: Connection, head: Head, now: int, changes: Sequence[tuple[str, Mapping[str, object]]]) -> None:
    """The same, at least one, behind the last entry, which is locked."""
    entries = chained(head, now, changes)
    keep(connection, APPEND, entries)
    if connection.dialect.name == "sqlite":
        number, _, digest = entries[-1]
        keep(connection, MOVE, [(number, digest)])


def chained(head: Head, now: int, changes: Sequence[tuple[str, Mapping[str, object]]]) -> list[Entry]:
    """The entries of these changes behind the last one."""
    number, digest = head
    at, entries = in_entry(moment(now)), list[Entry]()
    for by, change in changes:
        number += 1
        content = canonical_line({**change, "number": number, "at": at, "by": by, "previous": digest})
        digest = digest_of(content)
        entries.append((number, content.decode(), digest))
    return entries


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
