"""The ledger's port over a database: what many callers record at once goes in by one commit."""

import time
from collections import OrderedDict
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import NamedTuple

from sqlalchemy import Connection, select
from sqlalchemy.ext.asyncio import AsyncConnection

from service.engine.documents import FlawedDocumentError, listed, quoted
from service.engine.ledger import Change, LotHistory, LotRow
from service.ports.catalogue import StateError
from service.ports.instruments import InstrumentRow
from service.ports.ledger import (
    ChangeUnknownError,
    Decide,
    Decided,
    LotIsAlteredError,
    LotsQuery,
    LotUnknownError,
    Recorded,
    VerdictRow,
)
from service.storage.database import Database, lot_attributes, lot_changes, lots
from service.storage.instruments import newest
from service.storage.lots.grouping import DeferredError, GroupCommit
from service.storage.lots.groups import GroupLot, GroupRead, lock_lots, read_group, store_group
from service.storage.lots.listing import listing
from service.storage.lots.rows import change_of, changes_after, lot_row
from service.storage.lots.verdicts import telling, verdict_of

MOST_REMEMBERED = 200 * 1024 * 1024
"""Bytes of memory that the lots in it may take together; the one not used for longest goes first."""


class _Write(NamedTuple):
    """What a caller wants to record."""

    lot: str
    decide: Decide
    instrument: str | None


class _Done(NamedTuple):
    """What was decided, the lot by it, and the number of the change."""

    decided: Decided
    row: LotRow
    number: int


_Taken = tuple[GroupLot, _Done | Exception]
"""The lot of a write, and what was done, or why it is refused."""


class DatabaseLedger:
    """Lots in SQLite or PostgreSQL."""

    def __init__(
        self, database: Database, most_remembered: int = MOST_REMEMBERED, clock: Callable[[], float] = time.monotonic
    ) -> None:
        """Keep them there; the tables are there already."""
        self._database, self._most, self._clock = database, most_remembered, clock
        self._grouping: GroupCommit[_Write, Recorded] = GroupCommit(self._store)
        self._memory: OrderedDict[str, LotHistory] = OrderedDict()
        self._bytes = 0

    @property
    def remembered_bytes(self) -> int:
        """So much memory the lots in it take, about."""
        return self._bytes

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

    async def folded(self, lot: str) -> LotHistory:
        """A lot with all its changes."""
        asked_at = self._clock()
        async with self._database.reading() as connection:
            row = await _row_of(connection, lot)
            return await self._caught_up(connection, lot, row.changes, asked_at)

    async def instrument(self, instrument: str) -> InstrumentRow | None:
        """The newest version of an instrument."""
        async with self._database.reading() as connection:
            return (await connection.run_sync(newest, [instrument])).get(instrument)

    async def recent(self, lot: str, within_s: float) -> LotHistory:
        """A lot with all changes that were kept so long ago."""
        found = self.remembered(lot)
        is_recent = found is not None and self._clock() - found.seen_at <= within_s
        return found if found is not None and is_recent else await self.folded(lot)

    def remembered(self, lot: str) -> LotHistory | None:
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
        return change_of(row)

    async def changes(self, lot: str, after: int, limit: int) -> Sequence[Change]:
        """Changes with a greater number than this."""
        async with self._database.reading() as connection:
            await _row_of(connection, lot)
            return [change_of(row) for row in await connection.execute(changes_after(lot, after).limit(limit))]

    async def verdict(self, lot: str, number: int) -> VerdictRow:
        """A verdict with all that it rests on."""
        async with self._database.reading() as connection:
            await _row_of(connection, lot)
            return await verdict_of(connection, lot, number)

    async def verdict_changes(self, lot: str, after: int, limit: int) -> Sequence[Change]:
        """Changes that tell of verdicts with a greater number than this."""
        async with self._database.reading() as connection:
            await _row_of(connection, lot)
            return [change_of(row) for row in await connection.execute(telling(lot, after).limit(limit))]

    async def lots(self, wanted: LotsQuery) -> Sequence[LotRow]:
        """Lots in the order of their ids."""
        async with self._database.reading() as connection:
            return [lot_row(row) for row in await connection.execute(listing(wanted))]

    async def attributes(self, lot: str) -> Sequence[tuple[str, str]]:
        """(name, value) of a lot, in order."""
        of = lot_attributes.c
        query = select(of.name, of.value).where(of.lot == lot).order_by(of.name, of.value)
        async with self._database.reading() as connection:
            return [(name, value) for name, value in await connection.execute(query)]

    async def _store(self, writes: Sequence[_Write]) -> list[Recorded | Exception]:
        """Decide each in turn against what stands so far, keep all by one commit, and fold what was kept."""
        async with self._database.writing() as connection:
            taken = await connection.run_sync(self._keep, writes)
        for lot in dict.fromkeys(lot for lot, _ in taken):
            for change in lot.changes:
                lot.committed.add(change)
            self._remember(lot.committed)
        return [done if isinstance(done, Exception) else _recorded(lot, done) for lot, done in taken]

    def _keep(self, connection: Connection, writes: Sequence[_Write]) -> list[_Taken]:
        """What was decided of each write, all of it kept once the transaction is committed."""
        known = {name: self._memory.get(name) or LotHistory(name) for name in sorted({write.lot for write in writes})}
        instruments = {write.instrument for write in writes if write.instrument}
        lock_lots(connection, known)
        asked_at = self._clock()
        read = read_group(connection, {name: folded.changes for name, folded in known.items()}, instruments)
        lots = {name: self._found(folded, read, asked_at) for name, folded in known.items()}
        taken = [(lots[write.lot], _decided(lots[write.lot], write, read.instruments)) for write in writes]
        store_group(connection, lots.values())
        return taken

    def _found(self, folded: LotHistory, read: GroupRead, asked_at: float) -> GroupLot:
        """A lot as the group finds it, folded so far as the transaction has read it."""
        self._catch_up(folded, read.changes.get(folded.lot, ()), asked_at)
        return GroupLot(read.rows.get(folded.lot), folded, read.now)

    async def _caught_up(self, connection: AsyncConnection, lot: str, changes: int, asked_at: float) -> LotHistory:
        """The lot folded at least so far: from memory, with what has come since on top.

        asked_at  when it was asked how far that is
        """
        folded = self._memory.get(lot) or LotHistory(lot)
        rows = await connection.execute(changes_after(lot, folded.changes)) if folded.changes < changes else ()
        self._catch_up(folded, map(change_of, rows), asked_at)
        return folded

    def _catch_up(self, folded: LotHistory, changes: Iterable[Change], asked_at: float) -> None:
        """Fold what has come since, and remember the lot as it was when that was asked."""
        for change in changes:
            folded.add(change)
        self._remember(folded)
        folded.seen_at = max(folded.seen_at, asked_at)

    def _remember(self, folded: LotHistory) -> None:
        """Keep it for the next one that asks; another one of the same lot goes."""
        if not folded.changes:
            return
        known = self._memory.get(folded.lot)
        if known is not folded:
            if known:
                self._forget(known)
            self._memory[folded.lot], folded.weighed = folded, self._weigh
            self._bytes += folded.bytes
        self._memory.move_to_end(folded.lot)
        while self._bytes > self._most and len(self._memory) > 1:
            self._forget(next(iter(self._memory.values())))

    def _weigh(self, gain: int) -> None:
        """A lot in memory takes so much more."""
        self._bytes += gain

    def _forget(self, folded: LotHistory) -> None:
        """Whoever holds it still may go on with it."""
        del self._memory[folded.lot]
        self._bytes -= folded.bytes
        folded.weighed = None


def _decided(lot: GroupLot, write: _Write, known: Mapping[str, InstrumentRow]) -> _Done | Exception:
    """What is decided, or why it is refused."""
    if lot.altered:
        return LotIsAlteredError(_altered(write.lot, lot.altered))
    lot.instrument = known.get(write.instrument or "")
    try:
        decided = write.decide(lot)
    except (StateError, FlawedDocumentError, DeferredError) as error:
        return error
    number = lot.take(decided)
    assert lot.row is not None
    return _Done(decided, lot.row, number)


def _recorded(lot: GroupLot, done: _Done) -> Recorded:
    """The same once it is kept and folded."""
    return Recorded(done.decided, done.row, lot.committed, done.number)


def _altered(lot: str, columns: Sequence[str]) -> str:
    """That nothing can rest on the lot, and what to do."""
    text = f"The row of lot {lot} was altered: it differs in {listed(columns, 'and')} from what was recorded of the lot."
    return f"{text} Nothing was done. Hold the lot, and have whoever runs the service run `markeryarn verify`."


async def _row_of(connection: AsyncConnection, lot: str) -> LotRow:
    """A lot. Raises LotUnknownError."""
    row = (await connection.execute(select(lots).where(lots.c.lot == lot))).first()
    if row is None:
        raise LotUnknownError(
            f"There is no lot {quoted(lot)}. `PUT /v1/lots/{lot}` opens it, `GET /v1/lots` lists those there are."
        )
    return lot_row(row)
