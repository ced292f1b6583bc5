"""Keeping a group of the ledger's writes by one statement, without a transaction, where nobody has written since it was read.

Every change of anything by which a group is decided has its entry in the journal, so that the journal's head tells whether
something has moved. Whoever decides under locks moves the head only at his end: his locks are asked for as well, and not waited
for. Where either fails nothing is kept, and the group is decided anew under locks.
"""

from collections.abc import Sequence

from sqlalchemy import Connection

from service.storage.journal import Entry, Head
from service.storage.plain import Plain, Rows, names_of, rows, unnested
from service.storage.tables import journal, lot_changes

COUNTED = "counted AS (UPDATE lots SET changes = last.number FROM last WHERE lots.lot = last.lot)"
"""How many changes each lot has by the last one of it."""
KEEP = Plain(
    "",
    "WITH locked AS MATERIALIZED (SELECT bool_and(pg_try_advisory_xact_lock(k)) AS all FROM unnest($1::bigint[]) AS k), "  # noqa: S608  names of ours
    "moved AS (UPDATE journal_head AS head SET number = $4, digest = $5 FROM locked "
    "WHERE locked.all AND head.number = $2 AND head.digest = $3 RETURNING head.number), "
    f"entries AS ({unnested(journal, 6)}), changes AS ({unnested(lot_changes, 6 + len(journal.columns))}), "
    f"appended AS (INSERT INTO journal ({names_of(journal)}) SELECT entries.* FROM entries, moved), "
    "last AS (SELECT lot, max(changes.number) AS number FROM changes, moved GROUP BY lot), "
    f"{COUNTED}, "
    f"kept AS (INSERT INTO lot_changes ({names_of(lot_changes)}) SELECT changes.* FROM changes, moved) "
    "SELECT number FROM moved",
)


def keep_unmoved(connection: Connection, locks: Sequence[int], head: Head, entries: Sequence[Entry], changes: Rows) -> bool:
    """Keep changes of lots and their entries, at least one; False where nothing was kept, as something has moved.

    locks    which whoever decides otherwise holds until he has committed
    head     of the journal, read no later than anything else that the changes were decided by
    entries  behind that head
    changes  in the order of the table's columns
    """
    number, _, digest = entries[-1]
    columns = (*zip(*entries, strict=True), *zip(*changes, strict=True))
    return bool(rows(connection, KEEP, locks, *head, number, digest, *columns))
