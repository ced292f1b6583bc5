"""The two steps of a group of the ledger's writes: what it is decided by, and keeping what was decided."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from hashlib import sha256
from typing import NamedTuple

import msgspec
from sqlalchemy import Connection, bindparam, insert, select, update

from service.engine.digests import digest_of
from service.engine.ledger import Change, Folded
from service.engine.ledger.folding import Known
from service.ports import Decided, InstrumentRow, LotRow, Moment
from service.storage.grouping import PutOffError
from service.storage.instruments import newest
from service.storage.journal import HEAD, Head, append_behind, chained
from service.storage.lot_rows import change_columns, change_of, changes_after, lot_columns, lot_row, numbered, with_changes
from service.storage.moments import NOW, moment, stored
from service.storage.plain import Plain, Rows, insertion, keep, names_of, rows, unnested
from service.storage.tables import lot_attributes, lot_changes, lots
from service.storage.unmoved import COUNTED, keep_unmoved
from service.storage.verdicts import Told, in_journal, keep_verdicts

_encode = msgspec.json.Encoder().encode
_OF_EACH = f"{', '.join(f'there.{name}' for name in lots.c.keys())}"  # noqa: SIM118  a collection
_HEAD = "head.number, head.digest"
ROWS = Plain(
    f"SELECT {NOW['sqlite']}, {_HEAD}, {_OF_EACH} FROM journal_head AS head "  # noqa: S608  our own
    "CROSS JOIN json_each(?) AS named LEFT JOIN lots AS there ON there.lot = named.value",
    f"SELECT {NOW['postgresql']}, {_HEAD}, {_OF_EACH} FROM journal_head AS head "  # noqa: S608  as above
    "CROSS JOIN unnest($1::text[]) AS named LEFT JOIN lots AS there ON there.lot = named",
)
"""The database's clock, the journal's head, and each lot, with nothing where there is none."""
KEEP = Plain(
    insertion(lot_changes),
    f"WITH new AS ({unnested(lot_changes)}), last AS (SELECT lot, max(number) AS number FROM new GROUP BY lot), "  # noqa: S608  as above
    f"{COUNTED}, "
    f"kept AS (INSERT INTO lot_changes ({names_of(lot_changes)}) SELECT * FROM new) {HEAD.postgresql}",
)
"""Changes; on PostgreSQL also how many each lot has by them, and the journal's head, locked: a statement more is a message more
there and back, while on SQLite it costs next to nothing."""
COUNT = Plain("UPDATE lots SET changes = ? WHERE lot = ?", "")
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
        self.before = row
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
    head: Head
    """The journal's; others may write behind it meanwhile, but on SQLite."""
    rows: Mapping[str, LotRow]
    changes: Mapping[str, Sequence[Change]]
    """Those of each lot that are not in memory here."""
    instruments: Mapping[str, InstrumentRow]


def read_group(connection: Connection, known: Mapping[str, int], instruments: Collection[str]) -> GroupRead:
    """Lots and instruments; in a transaction that holds the lots' locks nobody else changes them until its commit.

    known  of each lot, how many changes are in memory
    """
    names: object = list(known) if connection.dialect.name == "postgresql" else _encode(list(known)).decode()
    found = rows(connection, ROWS, names)
    now = moment(max(row[0] for row in found))
    there = {row.lot: row for row in (lot_row(each[3:]) for each in found if each[3] is not None)}
    behind = [row for row in there.values() if row.changes > known[row.lot]]
    changes = {
        row.lot: [change_of(each) for each in connection.execute(changes_after(row.lot, known[row.lot]))] for row in behind
    }
    return GroupRead(now, Head(*found[0][1:3]), there, changes, newest(connection, instruments))


def locks_of(names: Iterable[str]) -> Sequence[int]:
    """What a group locks on PostgreSQL, so that there is one writer at a time for each lot, open or not.

    It is not the row, which is not there before a lot is opened. All take their locks in the same order.
    """
    return sorted(int.from_bytes(sha256(b"lot " + name.encode()).digest()[:8], signed=True) for name in names)


def is_plain(lot: GroupLot) -> bool:
    """Whether nothing is to be kept but changes, behind others."""
    return not (lot.changes and (lot.verdicts or lot.attributes or _has_new_row(lot)))


def keep_plain_group(connection: Connection, found: Mapping[str, GroupLot], head: Head, locks: Sequence[int]) -> bool:
    """Keep what is plain by one statement, outside of a transaction; False where it has to be decided anew under locks.

    head   as it was read with all that was decided by
    locks  `locks_of` these lots
    """
    changed = [each for each in found.values() if each.changes]
    if not changed:
        return True
    return keep_unmoved(connection, locks, head, chained(head, stored(changed[0].now), _entries(changed)), _rows_of(changed))


def keep_group(connection: Connection, found: Mapping[str, GroupLot], head: Head) -> None:
    """Insert and update, by as few statements as there are tables, in a transaction that holds the locks of these lots.

    head  as it was read, which on SQLite is as it is
    """
    changed = [each for each in found.values() if each.changes and each.row]
    if not changed:
        return
    _keep_lots(connection, changed)
    keep_verdicts(connection, [(each.committed.lot, told) for each in changed for told in each.verdicts])
    _keep_attributes(connection, changed)
    # Last, as the journal's head is locked until the commit.
    append_behind(connection, _keep_changes(connection, changed, head), stored(changed[0].now), _entries(changed))


def _keep_changes(connection: Connection, changed: Sequence[GroupLot], head: Head) -> Head:
    """Changes, and how many each lot has by them; the head of the journal, which nobody moves until the commit."""
    kept = _rows_of(changed)
    if connection.dialect.name == "postgresql":
        return Head(*rows(connection, KEEP, *zip(*kept, strict=True))[0])
    keep(connection, KEEP, kept)
    keep(connection, COUNT, [(each.row.changes, each.row.lot) for each in changed if each.row])
    return head


def _rows_of(changed: Sequence[GroupLot]) -> Rows:
    """Their changes."""
    return [change_columns(each.committed.lot, change) for each in changed for change in each.changes]


def _entries(changed: Sequence[GroupLot]) -> list[tuple[str, dict[str, object]]]:
    """Who made their changes, and what the journal says of these."""
    return [(change.by, _entry(each, change)) for each in changed for change in each.changes]


def _has_new_row(lot: GroupLot) -> bool:
    """Whether more of a lot has become another than how many changes it has, or all of it."""
    return not (lot.before and lot.row and with_changes(lot.before, lot.row.changes) == lot.row)


def _keep_lots(connection: Connection, changed: Sequence[GroupLot]) -> None:
    """Lots that are new, and those of which more has become another than how many changes they have."""
    new = [lot_columns(each.row) for each in changed if each.before is None and each.row]
    if new:
        connection.execute(insert(lots), new)
    old = [
        {"of_lot": each.row.lot, **{f"new_{name}": value for name, value in lot_columns(each.row).items() if name != "lot"}}
        for each in changed
        if each.before and each.row and _has_new_row(each)
    ]
    if old:
        connection.execute(UPDATE, old)


def _entry(lot: GroupLot, change: Change) -> dict[str, object]:
    """What the journal says of a change."""
    about = {"lot": lot.committed.lot, "change": change.number, "digest": change.digest, "kept": digest_of(change.document)}
    verdict = next((in_journal(verdict) for told, verdict in lot.verdicts if told is change), {}) if lot.verdicts else {}
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
