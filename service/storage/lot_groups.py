"""The two steps of a group of the ledger's writes: what it is decided by, and keeping what was decided."""

from collections.abc import Collection, Mapping, Sequence
from hashlib import sha256
from typing import NamedTuple

from sqlalchemy import Connection, bindparam, insert, select, text, update

from service.engine.digests import digest_of
from service.engine.ledger import Change, Folded
from service.engine.ledger.folding import Known
from service.ports import Decided, InstrumentRow, LotRow, Moment
from service.storage.grouping import PutOffError
from service.storage.instruments import newest
from service.storage.journal import append_all
from service.storage.lot_rows import change_columns, change_of, changes_after, lot_columns, lot_row, numbered, with_changes
from service.storage.moments import NOW, moment, now_of, stored
from service.storage.tables import lot_attributes, lot_changes, lots
from service.storage.verdicts import Told, in_journal, keep_verdicts

LOCK = text(
    f"SELECT pg_advisory_xact_lock(k), {NOW['postgresql']} FROM unnest(CAST(:keys AS bigint[])) AS k"  # noqa: S608  our own
)
UPDATE = (
    update(lots)
    .where(lots.c.lot == bindparam("of_lot"))
    .values({name: bindparam(f"new_{name}") for name in lots.c.keys() if name != "lot"})  # noqa: SIM118  a collection
)


class GroupLot:
    """A lot while a group is decided: `SoFar` of the port."""

    def __init__(self, row: LotRow | None, committed: Folded, now: Moment) -> None:
        """As its transaction finds it."""
        self.row, self.committed, self.now = row, committed, now
        self.was_there = row is not None
        self.instrument: InstrumentRow | None = None
        self.changes: list[Change] = []
        self.verdicts: list[Told] = []
        self.attributes: dict[tuple[str, str], None] = {}
        self._new: dict[str, Known] = {}

    def find(self, key: str) -> Known | None:
        """The change under this id, in the group too."""
        return self._new.get(key) or self.committed.known.get(key)

    def whole(self) -> Folded:
        """All that was told; later, where something of the group is not in."""
        if self.changes:
            raise PutOffError
        return self.committed

    def take(self, decided: Decided) -> int:
        """Go on from what was decided; the number of its last change."""
        number = self.row.changes if self.row else 0
        for each in decided.changes:
            number += 1
            change = numbered(each, number, self.now)
            self.changes.append(change)
            self.verdicts += [(change, each.verdict)] if each.verdict else []
            self._new[each.key] = Known(number, each.kind, each.digest)
        self.row = with_changes(decided.row, number)
        self.attributes |= dict.fromkeys(decided.attributes)
        return decided.number or number


class GroupRead(NamedTuple):
    """What a group is decided by, as its transaction finds it."""

    now: Moment
    rows: Mapping[str, LotRow]
    changes: Mapping[str, Sequence[Change]]
    """Those of each lot that are not in memory here."""
    instruments: Mapping[str, InstrumentRow]


def read_group(connection: Connection, known: Mapping[str, int], instruments: Collection[str]) -> GroupRead:
    """Lots, which nobody else changes until the commit, and instruments.

    known  of each lot, how many changes are in memory
    """
    now = moment(_lock(connection, list(known)))
    rows = {row.lot: lot_row(row) for row in connection.execute(select(lots).where(lots.c.lot.in_(list(known))))}
    behind = [row for row in rows.values() if row.changes > known[row.lot]]
    changes = {
        row.lot: [change_of(each) for each in connection.execute(changes_after(row.lot, known[row.lot]))] for row in behind
    }
    return GroupRead(now, rows, changes, newest(connection, instruments))


def _lock(connection: Connection, names: Sequence[str]) -> int:
    """One writer at a time for each lot, open or not; the moment at which it writes.

    SQLite has taken its lock as the transaction began. On PostgreSQL it is not the row, which is not there before a lot is
    opened. All take their locks in the same order.
    """
    if connection.dialect.name == "sqlite":
        now: int = connection.execute(select(now_of(connection))).scalar_one()
        return now
    keys = sorted(int.from_bytes(sha256(b"lot " + name.encode()).digest()[:8], signed=True) for name in names)
    latest: int = max(row[1] for row in connection.execute(LOCK, {"keys": keys}))
    return latest


def keep_group(connection: Connection, found: Mapping[str, GroupLot]) -> None:
    """Insert and update, by as few statements as there are tables."""
    changed = [each for each in found.values() if each.changes and each.row]
    if not changed:
        return
    new = [lot_columns(each.row) for each in changed if not each.was_there and each.row]
    if new:
        connection.execute(insert(lots), new)
    old = [
        {"of_lot": each.row.lot, **{f"new_{name}": value for name, value in lot_columns(each.row).items() if name != "lot"}}
        for each in changed
        if each.was_there and each.row
    ]
    if old:
        connection.execute(UPDATE, old)
    connection.execute(
        insert(lot_changes), [change_columns(each.committed.lot, change) for each in changed for change in each.changes]
    )
    keep_verdicts(connection, [(each.committed.lot, told) for each in changed for told in each.verdicts])
    _keep_attributes(connection, changed)
    # Last, as its head is locked until the commit.
    append_all(
        connection, stored(changed[0].now), [(change.by, _entry(each, change)) for each in changed for change in each.changes]
    )


def _entry(lot: GroupLot, change: Change) -> dict[str, object]:
    """What the journal says of a change."""
    about = {"lot": lot.committed.lot, "change": change.number, "digest": change.digest, "kept": digest_of(change.document)}
    verdict = next((in_journal(verdict) for told, verdict in lot.verdicts if told is change), {})
    return {"what": f"lot-{change.kind}", **about, **({"id": change.key} if change.key else {}), **verdict}


def _keep_attributes(connection: Connection, changed: Sequence[GroupLot]) -> None:
    """Those that are not there yet."""
    for each in changed:
        if each.attributes:
            lot, of = each.committed.lot, lot_attributes.c
            there = {(name, value) for name, value in connection.execute(select(of.name, of.value).where(of.lot == lot))}
            rows = [{"lot": lot, "name": name, "value": value} for name, value in each.attributes if (name, value) not in there]
            if rows:
                connection.execute(insert(lot_attributes), rows)
