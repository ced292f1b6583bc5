"""Lots, one by one: changes and verdicts beside their entries, and the lot's row beside what its changes come to."""

from collections.abc import AsyncIterator, Callable, Iterable, Mapping, Sequence
from typing import Any, Generic, NamedTuple, TypeVar

import msgspec
from sqlalchemy import JSON, BigInteger, ColumnElement, Select, cast, func, literal_column, select
from sqlalchemy.ext.asyncio import AsyncConnection

from service.engine.ledger import VERDICT, LotRow, VerdictRecord, attributes_in, row_after
from service.storage.database import journal, lot_attributes, lot_changes, lots, verdicts
from service.storage.lots import change_of, lot_columns
from service.storage.verifying.misfits import (
    SOME_AT_ONCE,
    AnyRow,
    Columns,
    Entry,
    Misfit,
    differing,
    digest,
    gone,
    moment_of,
    no_entry,
)

Item = TypeVar("Item")
_entry = msgspec.json.Decoder(dict[str, Any]).decode
_verdict = msgspec.json.Decoder(VerdictRecord).decode


class _Kept(NamedTuple):
    """The row of a change or of a verdict, its long texts by their digests."""

    number: int
    columns: Mapping[str, object]


class _Made:
    """What a lot's changes come to."""

    def __init__(self, lot: str) -> None:
        """Before the first of them."""
        self.lot = lot
        self.row: LotRow | None = None
        self.verdicts: dict[int, VerdictRecord] = {}
        self.attributes: set[tuple[str, str]] = set()
        self.is_readable = True
        """Whether each change is one of its kind."""

    def take(self, row: AnyRow) -> None:
        """One change more."""
        try:
            change = change_of(row)
            self.row = row_after(self.row, self.lot, change)
            self.attributes.update(attributes_in(change))
            if change.kind == VERDICT:
                verdict = _verdict(change.document)
                self.verdicts[verdict.number] = verdict
        except (msgspec.DecodeError, OverflowError, TypeError, AttributeError):
            # SQLite takes numbers that are no moment, and bytes where a text should be.
            self.is_readable = False


class _Lot(NamedTuple):
    """All that the database has of one lot."""

    name: str
    entries: Sequence[Entry]
    rows: Sequence[AnyRow]
    changes: Sequence[_Kept]
    made: _Made
    verdicts: Sequence[_Kept]
    attributes: Sequence[tuple[str, str]]


class _ByLot(Generic[Item]):
    """What comes in the order of lots, taken lot by lot."""

    def __init__(self, items: AsyncIterator[tuple[str, Item]]) -> None:
        """None of them taken yet."""
        self._items = items
        self._next: tuple[str, Item] | None = None

    async def next_lot(self) -> str | None:
        """The lot that the next one is of; None at the end."""
        if self._next is None:
            self._next = await anext(self._items, None)
        return self._next[0] if self._next else None

    async def of(self, lot: str) -> list[Item]:
        """All that is of this lot, which is the next one or comes before it."""
        found = list[Item]()
        while await self.next_lot() == lot:
            assert self._next is not None
            found.append(self._next[1])
            self._next = None
        return found


async def lot_misfits(connection: AsyncConnection) -> AsyncIterator[Iterable[Misfit]]:
    """What does not fit, lot by lot; of no other one anything is in memory but the next rows of each table."""
    entries = _ByLot(_each(connection, _entries(connection.dialect.name), lambda row: _entry(row.entry)))
    rows = _ByLot(_each(connection, select(lots).order_by(lots.c.lot), lambda row: row))
    changes = _ByLot(_changes(connection))
    kept = _ByLot(_each(connection, select(verdicts).order_by(verdicts.c.lot, verdicts.c.number), _verdict_kept))
    named = select(lot_attributes).order_by(lot_attributes.c.lot)
    attributes = _ByLot(_each(connection, named, lambda row: (row.name, row.value)))
    streams: Sequence[_ByLot[Any]] = (entries, rows, changes, kept, attributes)
    while names := [name for each in streams if (name := await each.next_lot()) is not None]:
        lot = min(names)
        told, made = await entries.of(lot), await changes.of(lot)
        of_changes, come_to = [each for each, _ in made], made[0][1] if made else _Made(lot)
        found = _Lot(lot, told, await rows.of(lot), of_changes, come_to, await kept.of(lot), await attributes.of(lot))
        yield list(_misfits(found))


def _entries(dialect: str) -> Select[*tuple[Any, ...]]:
    """The entries of lots, of each lot in the order of its changes; that they can be read so was seen before."""
    lot, change = _member(dialect, "lot"), cast(_member(dialect, "change"), BigInteger)
    # By bytes, as the columns of all tables are ordered.
    by_lot = lot.collate("C") if dialect == "postgresql" else lot
    return select(lot.label("lot"), journal.c.entry).where(lot.is_not(None)).order_by(by_lot, change)


def _member(dialect: str, name: str) -> ColumnElement[str]:
    """A member of an entry, which is kept as text."""
    if dialect == "postgresql":
        return func.json_extract_path_text(cast(journal.c.entry, JSON), literal_column(f"'{name}'"))
    return func.json_extract(journal.c.entry, literal_column(f"'$.{name}'"))


async def _each(
    connection: AsyncConnection, query: Select[*tuple[Any, ...]], made: Callable[[AnyRow], Item]
) -> AsyncIterator[tuple[str, Item]]:
    """The lot of each row, and what is made of the row."""
    async for row in await connection.stream(query, execution_options=SOME_AT_ONCE):
        yield row.lot, made(row)


async def _changes(connection: AsyncConnection) -> AsyncIterator[tuple[str, tuple[_Kept, _Made]]]:
    """Each change, and what the changes of its lot come to: all of them, once the last one is taken."""
    made = _Made("")
    query = select(lot_changes).order_by(lot_changes.c.lot, lot_changes.c.number)
    async for lot, row in _each(connection, query, lambda row: row):
        made = made if made.lot == lot else _Made(lot)
        made.take(row)
        columns = {"by": row.by, "at": row.at, "kind": row.kind, "key": row.key, "digest": row.digest}
        # What is kept itself is looked at, and not only the digest beside it.
        yield lot, (_Kept(row.number, {**columns, "document": digest(row.document)}), made)


def _verdict_kept(row: AnyRow) -> _Kept:
    columns = {name: getattr(row, name) for name in ("by", "at", "outcome", "grade", "revision")}
    return _Kept(row.number, {**columns, **{name: digest(getattr(row, name)) for name in ("verdict", "evidence", "results")}})


def _misfits(lot: _Lot) -> Iterable[Misfit]:
    """What does not fit of a lot: its changes first, as all else is compared with what they come to."""
    if not lot.entries:
        return [no_entry(f"lot {lot.name}")]
    told, last = {entry["change"]: entry for entry in lot.entries}, lot.entries[-1]
    if found := list(_beside_entries("lot_changes", f"change {{}} of lot {lot.name}", lot.changes, told, _change)):
        return found
    if not lot.made.is_readable:
        return [Misfit(last["number"], f"The changes of lot {lot.name} can't be read as changes of their kinds.")]
    of_verdicts = {entry["verdict"]: entry for entry in lot.entries if "verdict" in entry}
    named = f"verdict {{}} of lot {lot.name}"
    return [
        *_beside_entries("verdicts", named, lot.verdicts, of_verdicts, lambda number, entry: _told_of(lot, number, entry)),
        *_row(lot, last),
        *_attributes(lot, last),
    ]


def _beside_entries(
    table: str,
    named: str,
    rows: Sequence[_Kept],
    told: Mapping[int, Entry],
    expected: Callable[[int, Entry], Mapping[str, object]],
) -> Iterable[Misfit]:
    """Rows beside the entries that tell of them, both by their numbers.

    expected  what a row of this number should have by its entry, by column
    """
    for number, kept in rows:
        if entry := told.get(number):
            should = expected(number, entry)
            columns: Columns = {name: (kept[name], said) for name, said in should.items()}
            yield from differing(table, named.format(number), entry, columns)
        else:
            yield no_entry(named.format(number))
    there = {kept.number for kept in rows}
    yield from (gone(named.format(number), entry) for number, entry in told.items() if number not in there)


def _change(_number: int, entry: Entry) -> Mapping[str, object]:
    """What a change should have in its columns."""
    said = {"by": entry.get("by"), "at": moment_of(entry), "kind": str(entry.get("what")).removeprefix("lot-")}
    return {**said, "key": entry.get("id", ""), "digest": entry.get("digest"), "document": entry.get("kept")}


def _told_of(lot: _Lot, number: int, entry: Entry) -> Mapping[str, object]:
    """What a verdict should have in its columns: by its entry, and by the change that tells of it."""
    said = {name: entry.get(f"{name}_kept") for name in ("verdict", "evidence", "results")}
    told, row = lot.made.verdicts.get(number), lot.made.row
    of_change = {"outcome": told.outcome.value, "revision": told.revision} if told else {"outcome": None}
    return {"by": entry.get("by"), "at": moment_of(entry), "grade": row.grade if row else None, **of_change, **said}


def _row(lot: _Lot, last: Entry) -> Iterable[Misfit]:
    """The lot's row beside what its changes come to."""
    if not lot.rows or lot.made.row is None:
        return [gone(f"lot {lot.name}", last)]
    columns = {name: (getattr(lot.rows[0], name), said) for name, said in lot_columns(lot.made.row).items()}
    return differing("lots", f"lot {lot.name}", last, columns)


def _attributes(lot: _Lot, last: Entry) -> Iterable[Misfit]:
    """The attributes beside those that the changes add."""
    kept, made = set(lot.attributes), lot.made.attributes
    of = f"of lot {lot.name}"
    return [
        *(no_entry(f"attribute {name} `{value}` {of}") for name, value in kept - made),
        *(gone(f"attribute {name} `{value}` {of}", last) for name, value in made - kept),
    ]
