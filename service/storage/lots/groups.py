"""The transaction of a group of the ledger's writes: lock and read the lots, then store the decided changes.

Each step is one statement for the whole group, whatever its size.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from hashlib import sha256
from typing import NamedTuple

from sqlalchemy import ARRAY, BigInteger, Connection, Integer, bindparam, func, insert, literal_column, select, update
from sqlalchemy.dialects import postgresql, sqlite

from service.engine.documents import digest_of
from service.engine.ledger import Change, KnownChange, LotHistory, LotRow, attributes_in, row_after
from service.ports.catalogue import Moment
from service.ports.instruments import InstrumentRow
from service.ports.ledger import Decided
from service.storage.database import NOW_SQL, journal_head, lot_attributes, lot_changes, lots, to_microseconds, to_moment
from service.storage.instruments import newest_versions
from service.storage.journal import append_all
from service.storage.lots.grouping import DeferredError
from service.storage.lots.rows import change_columns, change_of, changes_behind, differing, lot_columns, lot_row, numbered
from service.storage.lots.verdicts import RecordedVerdict, in_journal, store_verdicts

_locks = func.unnest(bindparam("locks", type_=ARRAY(BigInteger))).column_valued("lock")
LOCK = select(func.pg_advisory_xact_lock(_locks))
ROWS = {
    database: select(literal_column(now, Integer), lots).select_from(
        journal_head.outerjoin(lots, lots.c.lot.in_(bindparam("names", expanding=True)))
    )
    for database, now in NOW_SQL.items()
}
"""Queries for the clock and the rows of lots, by dialect; one row with the clock alone where none of the lots exists."""
# SQLite writes each index anew that has a column of the statement, changed or not, and most changes are batches.
MEASURED, LISTED_BY = ("revision", "changes", "told", "closed_at"), ("state", "outcome", "disposition")
"""Columns of `lots` that changes alter, without and with an index."""
CHANGE_LOT = update(lots).where(lots.c.lot == bindparam("of_lot"))
ADD_ATTRIBUTE = {
    # A lot may get the same attribute twice, by two callers; its row says all that there is to say.
    "sqlite": sqlite.insert(lot_attributes).on_conflict_do_nothing(),
    "postgresql": postgresql.insert(lot_attributes).on_conflict_do_nothing(),
}


class GroupLot:
    """A lot while a group is decided; implements the port's `PendingLot`."""

    def __init__(self, stored: LotRow | None, committed: LotHistory, now: Moment) -> None:
        """Start from the state that the transaction has read.

        stored  the stored row, which has to equal the one that follows from the changes; None before the lot is opened
        """
        self.row, self.committed, self.now = committed.row, committed, now
        self.is_new, self.altered = stored is None, differing(stored, committed.row)
        """`altered` lists the columns in which the stored row differs from the derived one."""
        self.instrument: InstrumentRow | None = None
        self.changes: list[Change] = []
        self.verdicts: list[RecordedVerdict] = []
        self.attributes: dict[tuple[str, str], None] = {}
        self._new: dict[str, KnownChange] = {}

    def find(self, key: str) -> KnownChange | None:
        """Return the change under this id, from the group too; None if there is none."""
        return self._new.get(key) or self.committed.known.get(key)

    def complete_history(self) -> LotHistory:
        """Return the complete history. Raises DeferredError if the group has changed the lot already."""
        if self.changes:
            raise DeferredError
        return self.committed

    def apply(self, decided: Decided) -> int:
        """Apply a decision and return the number that it reports."""
        number = self.row.changes if self.row else 0
        for new in decided.changes:
            number += 1
            change = numbered(new, number, self.now)
            self.row = row_after(self.row, self.committed.lot, change)
            self.changes.append(change)
            self.attributes |= dict.fromkeys(attributes_in(change))
            self.verdicts += [(change, new.verdict)] if new.verdict else []
            self._new[new.key] = KnownChange(number, new.kind, new.digest)
        return decided.number or number


class GroupRead(NamedTuple):
    """What a group's transaction has read, on which its decisions rest."""

    now: Moment
    rows: Mapping[str, LotRow]
    changes: Mapping[str, Sequence[Change]]
    """Changes of each lot that are not in memory."""
    instruments: Mapping[str, InstrumentRow]


def lock_lots(connection: Connection, names: Iterable[str]) -> None:
    """Lock these lots, existing or not, until the transaction ends.

    On SQLite the transaction has the only lock already. The journal's head has to be locked after the lots.
    """
    if connection.dialect.name == "postgresql":
        connection.execute(LOCK, {"locks": locks_of(names)})


def locks_of(names: Iterable[str]) -> Sequence[int]:
    """Return the numbers of PostgreSQL's advisory locks for lots, 64 bits each, sorted."""
    # Advisory locks, as a lot that is not opened yet has no row to lock. Sorted, so that two groups never deadlock.
    return sorted(int.from_bytes(sha256(b"lot " + name.encode()).digest()[:8], signed=True) for name in names)


def read_group(connection: Connection, known: Mapping[str, int], instruments: Collection[str]) -> GroupRead:
    """Read locked lots, their changes that are not in memory, and instruments.

    known  number of changes in memory, by lot
    """
    # Not the statement that locks: PostgreSQL shows a statement the database as of its start, so one that waited for locks
    # would not see what the holders of these locks have committed.
    found = connection.execute(ROWS[connection.dialect.name], {"names": list(known)}).all()
    rows = {row.lot: row for row in (lot_row(raw[1:]) for raw in found if raw.lot is not None)}
    changes: dict[str, list[Change]] = {}
    if behind := {row.lot: known[row.lot] for row in rows.values() if row.changes > known[row.lot]}:
        for row in connection.execute(changes_behind(behind)):
            changes.setdefault(row.lot, []).append(change_of(row))
    return GroupRead(to_moment(found[0][0]), rows, changes, newest_versions(connection, instruments))


def store_group(connection: Connection, group: Iterable[GroupLot]) -> None:
    """Store the new rows, changes, verdicts and attributes of these lots, and append the journal's entries."""
    changed = [(lot, lot_columns(lot.row)) for lot in group if lot.changes and lot.row]
    if not changed:
        return
    if new := [columns for lot, columns in changed if lot.is_new]:
        connection.execute(insert(lots), new)
    for is_indexed in (False, True):
        if old := [
            _new_columns(lot, MEASURED + LISTED_BY * is_indexed)
            for lot, _ in changed
            if not lot.is_new and _moves(lot) == is_indexed
        ]:
            connection.execute(CHANGE_LOT, old)
    changes = [(lot, change) for lot, _ in changed for change in lot.changes]
    connection.execute(insert(lot_changes), [change_columns(lot.committed.lot, change) for lot, change in changes])
    store_verdicts(connection, [(lot.committed.lot, verdict) for lot, _ in changed for verdict in lot.verdicts])
    if attributes := [(lot.committed.lot, *pair) for lot, _ in changed for pair in lot.attributes]:
        named = [{"lot": lot, "name": name, "value": value} for lot, name, value in attributes]
        connection.execute(ADD_ATTRIBUTE[connection.dialect.name], named)
    # Last, as this locks the journal's head, which every other writer needs, until the commit.
    append_all(connection, to_microseconds(changes[0][1].at), [(change.by, _entry(lot, change)) for lot, change in changes])


def _moves(lot: GroupLot) -> bool:
    """Whether a column changes by which lots are listed."""
    before, now = lot.committed.row, lot.row
    assert before is not None
    assert now is not None
    return any(getattr(before, name) != getattr(now, name) for name in LISTED_BY)


def _new_columns(lot: GroupLot, names: Sequence[str]) -> dict[str, object]:
    """These columns of a lot's new row."""
    assert lot.row is not None
    columns = lot_columns(lot.row)
    return {"of_lot": lot.committed.lot, **{name: columns[name] for name in names}}


def _entry(lot: GroupLot, change: Change) -> dict[str, object]:
    """The journal's content for a change."""
    about = {"lot": lot.committed.lot, "change": change.number, "digest": change.digest, "kept": digest_of(change.document)}
    verdict = (
        next((in_journal(verdict) for recorded_by, verdict in lot.verdicts if recorded_by is change), {})
        if lot.verdicts
        else {}
    )
    return {"what": f"lot-{change.kind}", **about, **({"id": change.key} if change.key else {}), **verdict}
