"""Verification of lots, one by one: changes and verdicts against entries, rows and attributes against the changes."""

from collections.abc import AsyncIterator, Callable, Iterable, Mapping, Sequence
from typing import Any, Generic, NamedTuple, TypeVar

import msgspec
from sqlalchemy import JSON, BigInteger, ColumnElement, Select, cast, func, literal_column, select
from sqlalchemy.ext.asyncio import AsyncConnection

from service.engine.ledger import VERDICT, Listed, LotRow, VerdictRecord, attributes_in, failed_in, row_after
from service.storage.database import (
    journal,
    lot_attributes,
    lot_changes,
    lot_claims,
    lot_failures,
    lot_openings,
    lots,
    to_microseconds,
    verdicts,
)
from service.storage.lots import change_of, lot_columns
from service.storage.verifying.mismatches import (
    SOME_AT_ONCE,
    AnyRow,
    Columns,
    Entry,
    Mismatch,
    differing,
    digest,
    gone,
    moment_of,
    no_entry,
)

Item = TypeVar("Item")
Columned = Mapping[str, object]
LISTED = (lot_openings, lot_failures, lot_claims)
"""Tables of lots that triggers fill."""
_entry = msgspec.json.Decoder(dict[str, Any]).decode
_verdict = msgspec.json.Decoder(VerdictRecord).decode


class _Digested(NamedTuple):
    """The row of a change or verdict, with digests in place of long texts."""

    number: int
    columns: Mapping[str, object]
    failed: Sequence[str] = ()
    """Of a verdict, the binding requirements that fail in it."""


class _Derived:
    """The state of a lot that follows from its changes."""

    def __init__(self, lot: str) -> None:
        """Start before the first change."""
        self.lot = lot
        self.row: LotRow | None = None
        self.verdicts: dict[int, VerdictRecord] = {}
        self.attributes: set[tuple[str, str]] = set()
        self.listed = Listed()
        self.is_readable = True
        """False once a change could not be decoded as its kind."""

    def apply(self, row: AnyRow) -> None:
        """Apply the next change."""
        try:
            change = change_of(row)
            self.row = row_after(self.row, self.lot, change)
            self.attributes.update(attributes_in(change))
            self.listed.add(change)
            if change.kind == VERDICT:
                verdict = _verdict(change.document)
                self.verdicts[verdict.number] = verdict
        except (msgspec.DecodeError, OverflowError, TypeError, AttributeError, KeyError):
            # SQLite stores any type in any column: numbers beyond datetime's range, or bytes in place of a text.
            self.is_readable = False


class _Lot(NamedTuple):
    """All rows and entries of one lot."""

    name: str
    entries: Sequence[Entry]
    rows: Sequence[AnyRow]
    changes: Sequence[_Digested]
    derived: _Derived
    verdicts: Sequence[_Digested]
    attributes: Sequence[tuple[str, str]]
    listed: Sequence[Sequence[Columned]]
    """The rows of each table of LISTED."""


class _ByLot(Generic[Item]):
    """A stream of items sorted by lot, read lot by lot."""

    def __init__(self, items: AsyncIterator[tuple[str, Item]]) -> None:
        """Wrap a stream of (lot, item)."""
        self._items = items
        self._next: tuple[str, Item] | None = None

    async def next_lot(self) -> str | None:
        """Return the lot of the next item; None at the end."""
        if self._next is None:
            self._next = await anext(self._items, None)
        return self._next[0] if self._next else None

    async def of(self, lot: str) -> list[Item]:
        """Read all items of this lot, which must not sort after the next item's."""
        found = list[Item]()
        while await self.next_lot() == lot:
            assert self._next is not None
            found.append(self._next[1])
            self._next = None
        return found


async def lot_mismatches(connection: AsyncConnection) -> AsyncIterator[Iterable[Mismatch]]:
    """Yield the mismatches lot by lot; in memory are one lot and the buffers of the streams."""
    entries = _ByLot(_each(connection, _entries(connection.dialect.name), lambda row: _entry(row.entry)))
    rows = _ByLot(_each(connection, select(lots).order_by(lots.c.lot), lambda row: row))
    changes = _ByLot(_changes(connection))
    verdict_rows = _ByLot(_each(connection, select(verdicts).order_by(verdicts.c.lot, verdicts.c.number), _digested_verdict))
    named = select(lot_attributes).order_by(lot_attributes.c.lot)
    attributes = _ByLot(_each(connection, named, lambda row: (row.name, row.value)))
    listed = [_ByLot(_each(connection, select(table).order_by(table.c.lot), _columned)) for table in LISTED]
    streams: Sequence[_ByLot[Any]] = (entries, rows, changes, verdict_rows, attributes, *listed)
    # A merge of sorted streams, so that memory does not grow with the number of lots.
    while names := [name for stream in streams if (name := await stream.next_lot()) is not None]:
        lot = min(names)
        of_lot, with_state = await entries.of(lot), await changes.of(lot)
        change_rows, state = [row for row, _ in with_state], with_state[0][1] if with_state else _Derived(lot)
        of_verdicts, of_attributes = await verdict_rows.of(lot), await attributes.of(lot)
        of_lists = [await each.of(lot) for each in listed]
        found = _Lot(lot, of_lot, await rows.of(lot), change_rows, state, of_verdicts, of_attributes, of_lists)
        yield list(_mismatches(found))


def _entries(dialect: str) -> Select[*tuple[Any, ...]]:
    """The query for entries of lots, ordered by lot and change; `chain.walk` has checked that both can be read."""
    lot, change = _member(dialect, "lot"), cast(_member(dialect, "change"), BigInteger)
    # In order of bytes like the columns of the tables, since the streams are merged by lot.
    by_lot = lot.collate("C") if dialect == "postgresql" else lot
    return select(lot.label("lot"), journal.c.entry).where(lot.is_not(None)).order_by(by_lot, change)


def _member(dialect: str, name: str) -> ColumnElement[str]:
    """An SQL expression for a member of an entry, which is stored as text."""
    if dialect == "postgresql":
        return func.json_extract_path_text(cast(journal.c.entry, JSON), literal_column(f"'{name}'"))
    return func.json_extract(journal.c.entry, literal_column(f"'$.{name}'"))


async def _each(
    connection: AsyncConnection, query: Select[*tuple[Any, ...]], made: Callable[[AnyRow], Item]
) -> AsyncIterator[tuple[str, Item]]:
    """The lot of each row, and the row converted by `made`."""
    async for row in await connection.stream(query, execution_options=SOME_AT_ONCE):
        yield row.lot, made(row)


async def _changes(connection: AsyncConnection) -> AsyncIterator[tuple[str, tuple[_Digested, _Derived]]]:
    """Each change with its lot's derived state, which is complete once all changes of the lot were read."""
    derived = _Derived("")
    query = select(lot_changes).order_by(lot_changes.c.lot, lot_changes.c.number)
    async for lot, row in _each(connection, query, lambda row: row):
        derived = derived if derived.lot == lot else _Derived(lot)
        derived.apply(row)
        columns = {"by": row.by, "at": row.at, "kind": row.kind, "key": row.key, "digest": row.digest}
        # The digest of the document itself, as the column `digest` may agree while the document was altered.
        yield lot, (_Digested(row.number, {**columns, "document": digest(row.document)}), derived)


def _digested_verdict(row: AnyRow) -> _Digested:
    columns = {name: getattr(row, name) for name in ("by", "at", "outcome", "grade", "revision")}
    digests = {name: digest(getattr(row, name)) for name in ("verdict", "evidence", "results")}
    return _Digested(row.number, {**columns, **digests}, failed_in(str(row.verdict).encode()))


def _columned(row: AnyRow) -> Columned:
    return row._asdict()


def _mismatches(lot: _Lot) -> Iterable[Mismatch]:
    """The mismatches of a lot."""
    if not lot.entries:
        return [no_entry(f"lot {lot.name}")]
    # Changes first, as everything else is compared with what follows from them.
    of_changes, last = {entry["change"]: entry for entry in lot.entries}, lot.entries[-1]
    if found := list(
        _compared_with_entries("lot_changes", f"change {{}} of lot {lot.name}", lot.changes, of_changes, _change_columns)
    ):
        return found
    if not lot.derived.is_readable:
        return [Mismatch(last["number"], f"The changes of lot {lot.name} can't be read as changes of their kinds.")]
    of_verdicts = {entry["verdict"]: entry for entry in lot.entries if "verdict" in entry}
    named = f"verdict {{}} of lot {lot.name}"
    return [
        *_compared_with_entries(
            "verdicts", named, lot.verdicts, of_verdicts, lambda number, entry: _verdict_columns(lot, number, entry)
        ),
        *_row(lot, last),
        *_attributes(lot, last),
        *_listed(lot, last),
    ]


def _compared_with_entries(
    table: str,
    named: str,
    rows: Sequence[_Digested],
    entries: Mapping[int, Entry],
    expected: Callable[[int, Entry], Mapping[str, object]],
) -> Iterable[Mismatch]:
    """Compare rows with their entries, by number.

    expected  expected values by column, for a number and its entry
    """
    for number, actual, _ in rows:
        if entry := entries.get(number):
            columns: Columns = {name: (actual[name], value) for name, value in expected(number, entry).items()}
            yield from differing(table, named.format(number), entry, columns)
        else:
            yield no_entry(named.format(number))
    found = {row.number for row in rows}
    yield from (gone(named.format(number), entry) for number, entry in entries.items() if number not in found)


def _change_columns(_number: int, entry: Entry) -> Mapping[str, object]:
    """Expected columns of a change."""
    said = {"by": entry.get("by"), "at": moment_of(entry), "kind": str(entry.get("what")).removeprefix("lot-")}
    return {**said, "key": entry.get("id", ""), "digest": entry.get("digest"), "document": entry.get("kept")}


def _verdict_columns(lot: _Lot, number: int, entry: Entry) -> Mapping[str, object]:
    """Expected columns of a verdict, by its entry and by the change that records it."""
    said = {name: entry.get(f"{name}_kept") for name in ("verdict", "evidence", "results")}
    recorded, row = lot.derived.verdicts.get(number), lot.derived.row
    of_change = {"outcome": recorded.outcome.value, "revision": recorded.revision} if recorded else {"outcome": None}
    return {"by": entry.get("by"), "at": moment_of(entry), "grade": row.grade if row else None, **of_change, **said}


def _row(lot: _Lot, last: Entry) -> Iterable[Mismatch]:
    """Compare the lot's row with the one that follows from its changes."""
    if not lot.rows or lot.derived.row is None:
        return [gone(f"lot {lot.name}", last)]
    columns = {name: (getattr(lot.rows[0], name), said) for name, said in lot_columns(lot.derived.row).items()}
    return differing("lots", f"lot {lot.name}", last, columns)


def _attributes(lot: _Lot, last: Entry) -> Iterable[Mismatch]:
    """Compare the attributes with those that the changes add."""
    stored, derived = set(lot.attributes), lot.derived.attributes
    of = f"of lot {lot.name}"
    return [
        *(no_entry(f"attribute {name} `{value}` {of}") for name, value in stored - derived),
        *(gone(f"attribute {name} `{value}` {of}", last) for name, value in derived - stored),
    ]


def _listed(lot: _Lot, last: Entry) -> Iterable[Mismatch]:
    """Compare the rows that triggers made for lists with those that follow from the changes and the newest verdict."""
    derived, of = lot.derived.listed, {"lot": lot.name}
    failed = lot.verdicts[-1].failed if lot.verdicts else ()
    grade = lot.derived.row.grade if lot.derived.row else None
    claims = [
        {"claim": name, "grade": grade, "at": to_microseconds(at), "settled_at": until and to_microseconds(until)}
        for name, (at, until) in derived.claims.items()
    ]
    expected: Sequence[tuple[str, Sequence[Columned]]] = (
        ("lot", [{**of, "made": derived.made, "resubmits": derived.resubmits}]),
        ("requirement", [{**of, "requirement": each} for each in failed]),
        ("claim", [{**of, **each} for each in claims]),
    )
    for table, stored, (key, rows) in zip(LISTED, lot.listed, expected, strict=True):
        named, by_key = f"{table.name} {{}} of lot {lot.name}", {row[key]: row for row in stored}
        for row in rows:
            label, found = named.format(row[key]), by_key.pop(row[key], None)
            columns = {} if found is None else {name: (found[name], value) for name, value in row.items()}
            yield from [gone(label, last)] if found is None else differing(table.name, label, last, columns)
        yield from (no_entry(named.format(each)) for each in by_key)
