"""What a group of the ledger's writes does in its transaction: read what it is decided by, and keep what was decided.

Each statement is one for all of the group, however many they are.
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
from service.storage.database import NOW, journal_head, lot_attributes, lot_changes, lots, moment, stored
from service.storage.instruments import newest
from service.storage.journal import append_all
from service.storage.lots.grouping import DeferredError
from service.storage.lots.rows import change_columns, change_of, changes_behind, differing, lot_columns, lot_row, numbered
from service.storage.lots.verdicts import Told, in_journal, store_verdicts

_locks = func.unnest(bindparam("locks", type_=ARRAY(BigInteger))).column_valued("lock")
LOCK = select(func.pg_advisory_xact_lock(_locks))
ROWS = {
    database: select(literal_column(now, Integer), lots).select_from(
        journal_head.outerjoin(lots, lots.c.lot.in_(bindparam("names", expanding=True)))
    )
    for database, now in NOW.items()
}
"""The database's clock beside each lot that is there, and beside nothing where there is none."""
CHANGE_LOT = update(lots).where(lots.c.lot == bindparam("of_lot"))
ADD_ATTRIBUTE = {
    "sqlite": sqlite.insert(lot_attributes).on_conflict_do_nothing(),
    "postgresql": postgresql.insert(lot_attributes).on_conflict_do_nothing(),
}


class GroupLot:
    """A lot while a group is decided: `PendingLot` of the port."""

    def __init__(self, kept: LotRow | None, committed: LotHistory, now: Moment) -> None:
        """As its transaction finds it.

        kept  the row that is there, which must be the one that the changes come to
        """
        self.row, self.committed, self.now = committed.row, committed, now
        self.is_new, self.altered = kept is None, differing(kept, committed.row)
        """`altered` names the columns in which the row that is kept is another one."""
        self.instrument: InstrumentRow | None = None
        self.changes: list[Change] = []
        self.verdicts: list[Told] = []
        self.attributes: dict[tuple[str, str], None] = {}
        self._new: dict[str, KnownChange] = {}

    def find(self, key: str) -> KnownChange | None:
        """The change under this id, in the group too."""
        return self._new.get(key) or self.committed.known.get(key)

    def whole(self) -> LotHistory:
        """All that was told; later, where something of the group is not in."""
        if self.changes:
            raise DeferredError
        return self.committed

    def take(self, decided: Decided) -> int:
        """Go on from what was decided; the number of its last change."""
        number = self.row.changes if self.row else 0
        for each in decided.changes:
            number += 1
            change = numbered(each, number, self.now)
            self.row = row_after(self.row, self.committed.lot, change)
            self.changes.append(change)
            self.attributes |= dict.fromkeys(attributes_in(change))
            self.verdicts += [(change, each.verdict)] if each.verdict else []
            self._new[each.key] = KnownChange(number, each.kind, each.digest)
        return decided.number or number


class GroupRead(NamedTuple):
    """What a group is decided by, as its transaction finds it."""

    now: Moment
    rows: Mapping[str, LotRow]
    changes: Mapping[str, Sequence[Change]]
    """Those of each lot that are not in memory here."""
    instruments: Mapping[str, InstrumentRow]


def lock_lots(connection: Connection, names: Iterable[str]) -> None:
    """One writer at a time for each of these lots, open or not, until the transaction ends.

    SQLite has taken its one lock as the transaction began. Whoever locks the journal's head too does so after this.
    """
    if connection.dialect.name == "postgresql":
        connection.execute(LOCK, {"locks": locks_of(names)})


def locks_of(names: Iterable[str]) -> Sequence[int]:
    """What is locked for lots on PostgreSQL, 64 bits each, in the order in which all take their locks.

    It is not the row, which is not there before a lot is opened.
    """
    return sorted(int.from_bytes(sha256(b"lot " + name.encode()).digest()[:8], signed=True) for name in names)


def read_group(connection: Connection, known: Mapping[str, int], instruments: Collection[str]) -> GroupRead:
    """Lots, which are locked, and instruments.

    known  of each lot, how many changes are in memory
    """
    # A statement of its own: PostgreSQL shows a statement the database as it was when the statement began, so that one
    # which waits for locks would not see what was done by those it has waited for.
    found = connection.execute(ROWS[connection.dialect.name], {"names": list(known)}).all()
    rows = {row.lot: row for row in (lot_row(each[1:]) for each in found if each.lot is not None)}
    changes: dict[str, list[Change]] = {}
    if behind := {row.lot: known[row.lot] for row in rows.values() if row.changes > known[row.lot]}:
        for row in connection.execute(changes_behind(behind)):
            changes.setdefault(row.lot, []).append(change_of(row))
    return GroupRead(moment(found[0][0]), rows, changes, newest(connection, instruments))


def store_group(connection: Connection, found: Iterable[GroupLot]) -> None:
    """Insert and update what has become of these lots, and tell the journal of it."""
    changed = [(each, lot_columns(each.row)) for each in found if each.changes and each.row]
    if not changed:
        return
    if new := [columns for each, columns in changed if each.is_new]:
        connection.execute(insert(lots), new)
    if old := [{"of_lot": columns.pop("lot"), **columns} for each, columns in changed if not each.is_new]:
        connection.execute(CHANGE_LOT, old)
    kept = [(each, change) for each, _ in changed for change in each.changes]
    connection.execute(insert(lot_changes), [change_columns(each.committed.lot, change) for each, change in kept])
    store_verdicts(connection, [(each.committed.lot, told) for each, _ in changed for told in each.verdicts])
    if attributes := [(each.committed.lot, *pair) for each, _ in changed for pair in each.attributes]:
        named = [{"lot": lot, "name": name, "value": value} for lot, name, value in attributes]
        connection.execute(ADD_ATTRIBUTE[connection.dialect.name], named)
    # Last, as the journal's head is locked until the commit.
    append_all(connection, stored(kept[0][1].at), [(change.by, _entry(each, change)) for each, change in kept])


def _entry(lot: GroupLot, change: Change) -> dict[str, object]:
    """What the journal says of a change."""
    about = {"lot": lot.committed.lot, "change": change.number, "digest": change.digest, "kept": digest_of(change.document)}
    verdict = next((in_journal(verdict) for told, verdict in lot.verdicts if told is change), {}) if lot.verdicts else {}
    return {"what": f"lot-{change.kind}", **about, **({"id": change.key} if change.key else {}), **verdict}
