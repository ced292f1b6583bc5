"""The Ledger port over a database, with group commits and a cache of lots."""

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
    ClaimOnLot,
    ClaimsQuery,
    Decide,
    Decided,
    ListedLot,
    LotIsAlteredError,
    LotsQuery,
    LotUnknownError,
    Recorded,
    VerdictRow,
)
from service.storage.database import Database, lot_attributes, lot_changes, lots
from service.storage.instruments import newest_versions
from service.storage.lots.claims import listed_claims
from service.storage.lots.grouping import DeferredError, GroupCommit
from service.storage.lots.groups import GroupLot, GroupRead, lock_lots, read_group, store_group
from service.storage.lots.listing import listed_lots
from service.storage.lots.rows import change_of, changes_after, lot_row
from service.storage.lots.verdicts import changes_with_verdicts, verdict_of

MOST_REMEMBERED = 200 * 1024 * 1024
"""Size of the cache of lots, in bytes; the least recently used lot is evicted first."""


class _Write(NamedTuple):
    """A write of one caller."""

    lot: str
    decide: Decide
    instrument: str | None


class _Accepted(NamedTuple):
    """A decision, the lot's row after it, and the number to report."""

    decided: Decided
    row: LotRow
    number: int


_Handled = tuple[GroupLot, _Accepted | Exception]
"""The lot of a write, and its result or the exception that refuses it."""


class DatabaseLedger:
    """Ledger of lots in SQLite or PostgreSQL."""

    def __init__(
        self, database: Database, most_remembered: int = MOST_REMEMBERED, clock: Callable[[], float] = time.monotonic
    ) -> None:
        """Use a database whose tables exist.

        most_remembered  size of the cache of lots, in bytes
        clock            monotonic seconds, from any origin
        """
        self._database, self._most, self._clock = database, most_remembered, clock
        self._group_commit: GroupCommit[_Write, Recorded] = GroupCommit(self._store)
        self._memory: OrderedDict[str, LotHistory] = OrderedDict()
        self._bytes = 0

    @property
    def remembered_bytes(self) -> int:
        """Approximate size of the cached lots, in bytes."""
        return self._bytes

    async def record(self, lot: str, decide: Decide, instrument: str | None = None) -> Recorded:
        """Decide and store a change, in one transaction with those of concurrent callers."""
        return await self._group_commit.write(_Write(lot, decide, instrument))

    async def close(self) -> None:
        """Wait until all queued writes are stored."""
        await self._group_commit.close()

    async def row(self, lot: str) -> LotRow:
        """Return a lot's row."""
        async with self._database.reading() as connection:
            return await _row_of(connection, lot)

    async def folded(self, lot: str) -> LotHistory:
        """Return a lot's complete history."""
        asked_at = self._clock()
        async with self._database.reading() as connection:
            row = await _row_of(connection, lot)
            return await self._caught_up(connection, lot, row.changes, asked_at)

    async def instrument(self, instrument: str) -> InstrumentRow | None:
        """Return the newest version of an instrument, or None."""
        async with self._database.reading() as connection:
            return (await connection.run_sync(newest_versions, [instrument])).get(instrument)

    async def recent(self, lot: str, within_s: float) -> LotHistory:
        """Return a lot's history, missing at most changes of the last `within_s` seconds."""
        found = self.remembered(lot)
        is_recent = found is not None and self._clock() - found.seen_at <= within_s
        return found if found is not None and is_recent else await self.folded(lot)

    def remembered(self, lot: str) -> LotHistory | None:
        """Return a lot's history from memory, or None."""
        found = self._memory.get(lot)
        return found if found and found.changes else None

    async def change(self, lot: str, key: str) -> Change:
        """Return the change under an id."""
        query = select(lot_changes).where(lot_changes.c.lot == lot, lot_changes.c.key == key)
        async with self._database.reading() as connection:
            await _row_of(connection, lot)
            row = (await connection.execute(query)).first()
        if row is None:
            raise ChangeUnknownError(f"Lot {lot} has no change {quoted(key)}. `GET /v1/lots/{lot}/changes` lists its changes.")
        return change_of(row)

    async def changes(self, lot: str, after: int, limit: int) -> Sequence[Change]:
        """Return at most `limit` changes with numbers above `after`."""
        async with self._database.reading() as connection:
            await _row_of(connection, lot)
            return [change_of(row) for row in await connection.execute(changes_after(lot, after).limit(limit))]

    async def verdict(self, lot: str, number: int) -> VerdictRow:
        """Return a verdict with its evidence."""
        async with self._database.reading() as connection:
            await _row_of(connection, lot)
            return await verdict_of(connection, lot, number)

    async def verdict_changes(self, lot: str, after: int, limit: int) -> Sequence[Change]:
        """Return at most `limit` changes that record verdicts with numbers above `after`."""
        async with self._database.reading() as connection:
            await _row_of(connection, lot)
            return [change_of(row) for row in await connection.execute(changes_with_verdicts(lot, after).limit(limit))]

    async def lots(self, wanted: LotsQuery) -> Sequence[ListedLot]:
        """Return the lots that match, in the requested order."""
        async with self._database.reading() as connection:
            is_by_time = wanted.after and wanted.order != "lot"
            after = (await _row_of(connection, wanted.after)).opened_at if is_by_time else None
            return await listed_lots(connection, wanted, after)

    async def claims(self, wanted: ClaimsQuery) -> Sequence[ClaimOnLot]:
        """Return the claims on all lots that match, the newest first."""
        async with self._database.reading() as connection:
            return await listed_claims(connection, wanted)

    async def attributes(self, lot: str) -> Sequence[tuple[str, str]]:
        """Return the attributes of a lot as sorted (name, value) pairs."""
        of = lot_attributes.c
        query = select(of.name, of.value).where(of.lot == lot).order_by(of.name, of.value)
        async with self._database.reading() as connection:
            return [(name, value) for name, value in await connection.execute(query)]

    async def _store(self, writes: Sequence[_Write]) -> list[Recorded | Exception]:
        """Decide the writes in turn, store them by one commit, then add the stored changes to the cached histories."""
        async with self._database.writing() as connection:
            handled = await connection.run_sync(self._decide_and_store, writes)
        # After the commit only: a history in memory never has a change that was rolled back.
        for lot in dict.fromkeys(lot for lot, _ in handled):
            for change in lot.changes:
                lot.committed.add(change)
            self._cache(lot.committed)
        return [result if isinstance(result, Exception) else _recorded(lot, result) for lot, result in handled]

    def _decide_and_store(self, connection: Connection, writes: Sequence[_Write]) -> list[_Handled]:
        """Decide and store the writes within the group's transaction."""
        known = {name: self._memory.get(name) or LotHistory(name) for name in sorted({write.lot for write in writes})}
        instruments = {write.instrument for write in writes if write.instrument}
        lock_lots(connection, known)
        asked_at = self._clock()  # before reading, so that `seen_at` is never later than what was read
        read = read_group(connection, {name: folded.changes for name, folded in known.items()}, instruments)
        lots = {name: self._group_lot(folded, read, asked_at) for name, folded in known.items()}
        handled = [(lots[write.lot], _decided(lots[write.lot], write, read.instruments)) for write in writes]
        store_group(connection, lots.values())
        return handled

    def _group_lot(self, folded: LotHistory, read: GroupRead, asked_at: float) -> GroupLot:
        """The lot at the start of the group, with all changes that the transaction has read."""
        self._catch_up(folded, read.changes.get(folded.lot, ()), asked_at)
        return GroupLot(read.rows.get(folded.lot), folded, read.now)

    async def _caught_up(self, connection: AsyncConnection, lot: str, changes: int, asked_at: float) -> LotHistory:
        """Return the lot's history with at least `changes` changes, from memory as far as possible.

        asked_at  time before `changes` was read
        """
        folded = self._memory.get(lot) or LotHistory(lot)
        rows = await connection.execute(changes_after(lot, folded.changes)) if folded.changes < changes else ()
        self._catch_up(folded, map(change_of, rows), asked_at)
        return folded

    def _catch_up(self, folded: LotHistory, changes: Iterable[Change], asked_at: float) -> None:
        """Add newer changes to a history and cache it as current at `asked_at`."""
        for change in changes:
            folded.add(change)
        self._cache(folded)
        folded.seen_at = max(folded.seen_at, asked_at)

    def _cache(self, folded: LotHistory) -> None:
        """Cache a history in place of another one of the same lot, and evict the least recently used beyond the limit."""
        if not folded.changes:
            return
        known = self._memory.get(folded.lot)
        if known is not folded:
            if known:
                self._evict(known)
            self._memory[folded.lot], folded.weighed = folded, self._count_growth
            self._bytes += folded.bytes
        self._memory.move_to_end(folded.lot)
        # The newest stays even if it alone is larger than the limit: its next batch would otherwise read all of it again.
        while self._bytes > self._most and len(self._memory) > 1:
            self._evict(next(iter(self._memory.values())))

    def _count_growth(self, gain: int) -> None:
        """Count growth of a cached history, in bytes."""
        self._bytes += gain

    def _evict(self, folded: LotHistory) -> None:
        """Evict a history from the cache."""
        # Only the cache's reference goes: a caller that still has the history can go on with it.
        del self._memory[folded.lot]
        self._bytes -= folded.bytes
        folded.weighed = None


def _decided(lot: GroupLot, write: _Write, known: Mapping[str, InstrumentRow]) -> _Accepted | Exception:
    """Decide a write; returns the exception that refuses it rather than raising it."""
    # Before deciding: nothing may rest on a row that does not follow from its changes.
    if lot.altered:
        return LotIsAlteredError(_altered(write.lot, lot.altered))
    lot.instrument = known.get(write.instrument or "")
    try:
        decided = write.decide(lot)
    except (StateError, FlawedDocumentError, DeferredError) as error:
        return error
    number = lot.apply(decided)
    assert lot.row is not None
    return _Accepted(decided, lot.row, number)


def _recorded(lot: GroupLot, result: _Accepted) -> Recorded:
    """Return the result of a stored write."""
    return Recorded(result.decided, result.row, lot.committed, result.number)


def _altered(lot: str, columns: Sequence[str]) -> str:
    """The sentence for a lot whose row was altered."""
    text = f"The row of lot {lot} was altered: it differs in {listed(columns, 'and')} from what was recorded of the lot."
    return f"{text} Nothing was done. Hold the lot, and have the operator of the service run `markeryarn verify`."


async def _row_of(connection: AsyncConnection, lot: str) -> LotRow:
    """Read a lot's row. Raises LotUnknownError."""
    row = (await connection.execute(select(lots).where(lots.c.lot == lot))).first()
    if row is None:
        raise LotUnknownError(f"There is no lot {quoted(lot)}. `PUT /v1/lots/{lot}` opens it; `GET /v1/lots` lists the lots.")
    return lot_row(row)
