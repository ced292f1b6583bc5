"""The ledger's port over a database: what many callers record at once goes in by one commit."""

import time
from collections import OrderedDict
from collections.abc import Callable, Collection, Mapping, Sequence
from hashlib import sha256
from typing import Any, NamedTuple

from sqlalchemy import Connection, Row, Select, bindparam, insert, select, text, update
from sqlalchemy.ext.asyncio import AsyncConnection

from service.engine.digests import digest_of
from service.engine.flaws import FlawedDocumentError, quoted
from service.engine.ledger import Change, Folded
from service.engine.ledger.folding import Known
from service.ports import (
    ChangeUnknownError,
    Decide,
    Decided,
    InstrumentRow,
    LotRow,
    LotsWanted,
    LotUnknownError,
    Moment,
    NewChange,
    Recorded,
    StateError,
    VerdictRow,
)
from service.storage.connecting import Database
from service.storage.grouping import Grouping, PutOffError
from service.storage.instruments import newest
from service.storage.journal import append_all
from service.storage.listing import listing
from service.storage.moments import NOW, moment, now_of, stored
from service.storage.tables import lot_attributes, lot_changes, lots
from service.storage.verdicts import Told, in_journal, keep_verdicts, telling, verdict_of

MOST_REMEMBERED = 2_000_000
"""So much the lots in memory may weigh together: a reading weighs 1, a change 10; the one not used for longest goes first."""
OF_A_CHANGE = 10
LOCK = text(
    f"SELECT pg_advisory_xact_lock(k), {NOW['postgresql']} FROM unnest(CAST(:keys AS bigint[])) AS k"  # noqa: S608  our own
)
UPDATE = (
    update(lots)
    .where(lots.c.lot == bindparam("of_lot"))
    .values({name: bindparam(f"new_{name}") for name in lots.c.keys() if name != "lot"})  # noqa: SIM118  a collection
)


class _Write(NamedTuple):
    """What a caller wants to record."""

    lot: str
    decide: Decide
    instrument: str | None


class _Lot:
    """A lot while a group is decided: `SoFar` of the port."""

    def __init__(self, row: LotRow | None, committed: Folded, now: Moment) -> None:
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
            change = _numbered(each, number, self.now)
            self.changes.append(change)
            self.verdicts += [(change, each.verdict)] if each.verdict else []
            self._new[each.key] = Known(number, each.kind, each.digest)
        self.row = _with_changes(decided.row, number)
        self.attributes |= dict.fromkeys(decided.attributes)
        return decided.number or number


class DatabaseLedger:
    """Lots in SQLite or PostgreSQL."""

    def __init__(
        self, database: Database, most_remembered: int = MOST_REMEMBERED, clock: Callable[[], float] = time.monotonic
    ) -> None:
        """Keep them there; the tables are there already."""
        self._database, self._most, self._clock = database, most_remembered, clock
        self._grouping: Grouping[_Write, Recorded] = Grouping(self._store)
        self._memory: OrderedDict[str, Folded] = OrderedDict()
        self._weight = 0

    async def record(self, lot: str, decide: Decide, instrument: str | None = None) -> Recorded:
        """Keep what is decided, together with what others record at the same time."""
        return await self._grouping.write(_Write(lot, decide, instrument))

    async def close(self) -> None:
        """Wait until all that waits is kept."""
        await self._grouping.close()

    async def row(self, lot: str) -> LotRow:
        """A lot."""
        async with self._database.reading() as connection:
            return await _row_of(connection, lot)

    async def folded(self, lot: str) -> Folded:
        """A lot with all its changes."""
        asked_at = self._clock()
        async with self._database.reading() as connection:
            row = await _row_of(connection, lot)
            return await self._caught_up(connection, lot, row.changes, asked_at)

    async def instrument(self, instrument: str) -> InstrumentRow | None:
        """The newest version of an instrument."""
        async with self._database.reading() as connection:
            return (await connection.run_sync(newest, [instrument])).get(instrument)

    async def recent(self, lot: str, within_s: float) -> Folded:
        """A lot with all changes that were kept so long ago."""
        found = self.remembered(lot)
        is_recent = found is not None and self._clock() - found.seen_at <= within_s
        return found if found is not None and is_recent else await self.folded(lot)

    def remembered(self, lot: str) -> Folded | None:
        """A lot as it is in memory."""
        found = self._memory.get(lot)
        return found if found and found.changes else None

    async def change(self, lot: str, key: str) -> Change:
        """The change under an id."""
        query = select(lot_changes).where(lot_changes.c.lot == lot, lot_changes.c.key == key)
        async with self._database.reading() as connection:
            await _row_of(connection, lot)
            row = (await connection.execute(query)).first()
        if row is None:
            raise ChangeUnknownError(
                f"Lot {lot} has nothing under {quoted(key)}. `GET /v1/lots/{lot}/changes` lists what it has."
            )
        return _change(row)

    async def changes(self, lot: str, after: int, limit: int) -> Sequence[Change]:
        """Changes with a greater number than this."""
        async with self._database.reading() as connection:
            await _row_of(connection, lot)
            return [_change(row) for row in await connection.execute(_after(lot, after).limit(limit))]

    async def verdict(self, lot: str, number: int) -> VerdictRow:
        """A verdict with all that it rests on."""
        async with self._database.reading() as connection:
            await _row_of(connection, lot)
            return await verdict_of(connection, lot, number)

    async def verdict_changes(self, lot: str, after: int, limit: int) -> Sequence[Change]:
        """Changes that tell of verdicts with a greater number than this."""
        async with self._database.reading() as connection:
            await _row_of(connection, lot)
            return [_change(row) for row in await connection.execute(telling(lot, after).limit(limit))]

    async def lots(self, wanted: LotsWanted) -> Sequence[LotRow]:
        """Lots in the order of their ids."""
        async with self._database.reading() as connection:
            return [_lot_row(row) for row in await connection.execute(listing(wanted))]

    async def attributes(self, lot: str) -> Sequence[tuple[str, str]]:
        """(name, value) of a lot, in order."""
        of = lot_attributes.c
        query = select(of.name, of.value).where(of.lot == lot).order_by(of.name, of.value)
        async with self._database.reading() as connection:
            return [(name, value) for name, value in await connection.execute(query)]

    # ------------------------------------------------------------------------------------------------------------- a group

    async def _store(self, writes: Sequence[_Write]) -> list[Recorded | Exception]:
        """Decide each in turn against what stands so far, keep all by one commit, and fold what was kept."""
        lots_known = {name: self._memory.get(name) or Folded(name) for name in sorted({write.lot for write in writes})}
        instruments = {write.instrument for write in writes if write.instrument}
        async with self._database.stepping() as connection:
            asked_at = self._clock()
            changes = {name: folded.changes for name, folded in lots_known.items()}
            read = await connection.run_sync(_read, changes, instruments)
            found = {name: self._found(folded, read, asked_at) for name, folded in lots_known.items()}
            decided = [_decided(found[write.lot], write, read.instruments) for write in writes]
            await connection.run_sync(_keep, found)
        for each in found.values():
            for change in each.changes:
                self._fold(each.committed, change)
            self._remember(each.committed)
        return [
            each if isinstance(each, Exception) else Recorded(each[0], found[write.lot].committed, each[1])
            for write, each in zip(writes, decided, strict=True)
        ]

    def _found(self, folded: Folded, read: "_Read", asked_at: float) -> _Lot:
        """A lot as the group finds it, folded so far as the transaction has read it."""
        for change in read.changes.get(folded.lot, ()):
            self._fold(folded, change)
        self._remember(folded)
        folded.seen_at = max(folded.seen_at, asked_at)
        return _Lot(read.rows.get(folded.lot), folded, read.now)

    async def _caught_up(self, connection: AsyncConnection, lot: str, changes: int, asked_at: float) -> Folded:
        """The lot folded at least so far: from memory, with what has come since on top.

        asked_at  when it was asked how far that is
        """
        folded = self._memory.get(lot)
        if folded is None:
            folded = Folded(lot)
        if folded.changes < changes:
            for row in await connection.execute(_after(lot, folded.changes)):
                self._fold(folded, _change(row))
            self._remember(folded)
        folded.seen_at = max(folded.seen_at, asked_at)
        return folded

    def _fold(self, folded: Folded, change: Change) -> None:
        """One change more, and what it adds to the weight of what is in memory."""
        before = _weight(folded)
        folded.add(change)
        if self._memory.get(folded.lot) is folded:
            self._weight += _weight(folded) - before

    def _remember(self, folded: Folded) -> None:
        """Keep it for the next one that asks; another one of the same lot goes."""
        if not folded.changes:
            return
        known = self._memory.get(folded.lot)
        if known is not folded:
            self._weight += _weight(folded) - (_weight(known) if known else 0)
            self._memory[folded.lot] = folded
        self._memory.move_to_end(folded.lot)
        while self._weight > self._most and len(self._memory) > 1:
            _, dropped = self._memory.popitem(last=False)
            self._weight -= _weight(dropped)


def _weight(folded: Folded) -> int:
    return OF_A_CHANGE * folded.changes + folded.weight


def _decided(lot: _Lot, write: _Write, known: Mapping[str, InstrumentRow]) -> tuple[Decided, int] | Exception:
    """What is decided and its number, or why it is refused."""
    lot.instrument = known.get(write.instrument or "")
    try:
        decided = write.decide(lot)
    except (StateError, FlawedDocumentError, PutOffError) as error:
        return error
    return decided, lot.take(decided)


class _Read(NamedTuple):
    """What a group is decided by, as its transaction finds it."""

    now: Moment
    rows: Mapping[str, LotRow]
    changes: Mapping[str, Sequence[Change]]
    """Those of each lot that are not in memory here."""
    instruments: Mapping[str, InstrumentRow]


def _read(connection: Connection, known: Mapping[str, int], instruments: Collection[str]) -> _Read:
    """Lots, which nobody else changes until the commit, and instruments.

    known  of each lot, how many changes are in memory
    """
    now = moment(_lock(connection, list(known)))
    rows = {row.lot: _lot_row(row) for row in connection.execute(select(lots).where(lots.c.lot.in_(list(known))))}
    behind = [row for row in rows.values() if row.changes > known[row.lot]]
    changes = {row.lot: [_change(each) for each in connection.execute(_after(row.lot, known[row.lot]))] for row in behind}
    return _Read(now, rows, changes, newest(connection, instruments))


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


def _keep(connection: Connection, found: Mapping[str, _Lot]) -> None:
    """Insert and update, by as few statements as there are tables."""
    changed = [each for each in found.values() if each.changes and each.row]
    if not changed:
        return
    new = [_columns(each.row) for each in changed if not each.was_there and each.row]
    if new:
        connection.execute(insert(lots), new)
    old = [
        {"of_lot": each.row.lot, **{f"new_{name}": value for name, value in _columns(each.row).items() if name != "lot"}}
        for each in changed
        if each.was_there and each.row
    ]
    if old:
        connection.execute(UPDATE, old)
    connection.execute(insert(lot_changes), [_kept(each.committed.lot, change) for each in changed for change in each.changes])
    keep_verdicts(connection, [(each.committed.lot, told) for each in changed for told in each.verdicts])
    _keep_attributes(connection, changed)
    # Last, as its head is locked until the commit.
    append_all(
        connection, stored(changed[0].now), [(change.by, _entry(each, change)) for each in changed for change in each.changes]
    )


def _entry(lot: _Lot, change: Change) -> dict[str, object]:
    """What the journal says of a change."""
    about = {"lot": lot.committed.lot, "change": change.number, "digest": change.digest, "kept": digest_of(change.document)}
    verdict = next((in_journal(verdict) for told, verdict in lot.verdicts if told is change), {})
    return {"what": f"lot-{change.kind}", **about, **({"id": change.key} if change.key else {}), **verdict}


def _keep_attributes(connection: Connection, changed: Sequence[_Lot]) -> None:
    """Those that are not there yet."""
    for each in changed:
        if each.attributes:
            lot, of = each.committed.lot, lot_attributes.c
            there = {(name, value) for name, value in connection.execute(select(of.name, of.value).where(of.lot == lot))}
            rows = [{"lot": lot, "name": name, "value": value} for name, value in each.attributes if (name, value) not in there]
            if rows:
                connection.execute(insert(lot_attributes), rows)


def _kept(lot: str, change: Change) -> dict[str, Any]:
    """A change as a row."""
    return {
        "lot": lot,
        "number": change.number,
        "at": stored(change.at),
        "by": change.by,
        "kind": change.kind,
        "key": change.key,
        "digest": change.digest,
        "document": change.document.decode(),
    }


def _numbered(new: NewChange, number: int, now: Moment) -> Change:
    return Change(number=number, at=now, by=new.by, kind=new.kind, key=new.key, digest=new.digest, document=new.document)


def _with_changes(row: LotRow, changes: int) -> LotRow:
    return LotRow(**{**_members(row), "changes": changes})


def _members(row: LotRow) -> dict[str, Any]:
    return {name: getattr(row, name) for name in LotRow.__struct_fields__}


def _columns(row: LotRow) -> dict[str, Any]:
    """A lot as a row."""
    closed_at = None if row.closed_at is None else stored(row.closed_at)
    return {**_members(row), "told": row.told.decode(), "opened_at": stored(row.opened_at), "closed_at": closed_at}


def _lot_row(row: Row[*tuple[Any, ...]]) -> LotRow:
    """The lot that a row is."""
    made = dict(row._mapping)  # noqa: SLF001  the library's public name for it
    closed_at = None if row.closed_at is None else moment(row.closed_at)
    return LotRow(**{**made, "told": row.told.encode(), "opened_at": moment(row.opened_at), "closed_at": closed_at})


def _change(row: Row[*tuple[Any, ...]]) -> Change:
    """The change that a row is."""
    return Change(
        number=row.number,
        at=moment(row.at),
        by=row.by,
        kind=row.kind,
        key=row.key,
        digest=row.digest,
        document=row.document.encode(),
    )


async def _row_of(connection: AsyncConnection, lot: str) -> LotRow:
    """A lot. Raises LotUnknownError."""
    row = (await connection.execute(select(lots).where(lots.c.lot == lot))).first()
    if row is None:
        raise LotUnknownError(
            f"There is no lot {quoted(lot)}. `PUT /v1/lots/{lot}` opens it, `GET /v1/lots` lists those there are."
        )
    return _lot_row(row)


def _after(lot: str, number: int) -> Select[*tuple[Any, ...]]:
    of = lot_changes.c
    return select(lot_changes).where(of.lot == lot, of.number > number).order_by(of.number)
