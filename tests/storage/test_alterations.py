"""Each column of each table: whatever somebody alters in it is refused by the database, or found by `verify`."""

import asyncio
import random
import shutil
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing
from pathlib import Path
from typing import Any, NamedTuple
from urllib.parse import urlsplit

import pytest
from msgspec.structs import replace
from sqlalchemy import Column, Executable, Table, Text, and_, case, delete, insert, literal, select, text, update
from sqlalchemy.exc import DBAPIError
from sqlalchemy.ext.asyncio import AsyncConnection

from service.engine.documents import digest_of
from service.engine.ledger import (
    ATTRIBUTES,
    BATCH,
    CLAIM,
    CONCESSION,
    CORRECTION,
    DISPOSITION,
    MADE,
    MOVED,
    OPENED,
    STRIKE,
    VERDICT,
)
from service.ports.catalogue import LOCAL, Scope
from service.storage import database
from service.storage.catalogue import DatabaseCatalogue
from service.storage.database import Database, key_uses, lot_changes, metadata, open_database
from service.storage.instruments import DatabaseInstruments
from service.storage.keys import DatabaseKeys
from service.storage.lots import DatabaseLedger, DatabaseLines
from service.storage.verifying import verify, verify_in
from service.storage.verifying.exempt import EXEMPT_COLUMNS
from service.usecases.keys.issuing import add_key
from service.usecases.lines import LineHistories
from tests.storage.test_journal import without_triggers
from tests.support.databases import BOTH, Databases
from tests.support.stories import Story, released

Row = Mapping[str, Any]
LOTS = 6
SEED = 3
OF_AN_OWNER = {
    "sqlite": ("PRAGMA defer_foreign_keys = ON", "PRAGMA ignore_check_constraints = ON"),
    "postgresql": ("SET LOCAL session_replication_role = replica",),
}
"""By which nothing is refused any more but keys that are there already."""
KINDS = {OPENED, BATCH, STRIKE, MOVED, ATTRIBUTES, CORRECTION, VERDICT, CONCESSION, DISPOSITION, CLAIM, MADE}
"""Of changes, so many that the lots of these tests have."""
TABLES = sorted(metadata.tables)


class Alteration(NamedTuple):
    """What somebody does to a table."""

    name: str
    statements: Sequence[Executable]


async def fill(store: Database) -> None:
    """Some rows of each table, by the service's own commands."""
    catalogue, keys = DatabaseCatalogue(store), DatabaseKeys(store)
    grade_cache, ledgers = await released(catalogue), [DatabaseLedger(store), DatabaseLedger(store)]
    for code in ("TB-150", "TB-170"):
        for document in (b'{"title":"a"}', b'{"title":"b"}'):
            number = (await catalogue.add_draft(code, document, digest_of(document), by="anna"))[0].number
            await catalogue.release(code, number, None, None, by="otto")
        await catalogue.withdraw(code, 1, f"{code} is too weak.", by="otto")
        await catalogue.add_draft(code, b"{}", digest_of(b"{}"), by="anna")
        await catalogue.replace_draft(code, 3, b'{"title":"c"}', digest_of(b'{"title":"c"}'), None, by="otto")
    for name in ("station-1", "station-2", "station-3"):
        key = (await add_key(keys, name, frozenset({Scope.CHECK, Scope.READ}), None))[0]
        await keys.note_uses([key.key])
        if name != "station-3":
            await keys.revoke(key.key, "anna", f"{name} was scrapped.")
    for document in (b'{"measures":["force"]}', b'{"measures":["ratio"]}'):
        await DatabaseInstruments(store).put("TT-2", document, "anna")
    for instrument, until in (("TT-3", b"2027-01-31"), ("TT-4", b"2027-02-28")):
        await DatabaseInstruments(store).put(instrument, b'{"measures":[],"calibrated_until":"%s"}' % until, "anna")
    for number in (1, 2):
        await DatabaseLines(store).decide("TB-130", "L-4", f"D-{number}", b'{"n":%d}' % number, "otto")
    chance = random.Random(SEED)
    for number in range(LOTS):
        await Story(chance, grade_cache, ledgers, LineHistories(DatabaseLines(store)), f"L{number}").run()


@pytest.fixture(scope="module", params=BOTH)
def filled(request: pytest.FixtureRequest, databases: Databases) -> Iterator[str]:
    """The URL of such a database."""

    async def make(url: str) -> None:
        store = database(url)
        await fill(store)
        assert (await verify(store)).mismatch is None
        async with store.reading() as connection:
            kinds = set((await connection.execute(select(lot_changes.c.kind))).scalars())
        assert KINDS <= kinds
        await store.close()

    with databases.migrated(request.param) as url:
        asyncio.run(make(url))
        yield url


@pytest.fixture(scope="module")
def bare(filled: str, tmp_path_factory: pytest.TempPathFactory) -> str:
    """The same; in SQLite a copy in which somebody has dropped all triggers. In PostgreSQL that is done as rows are altered."""
    if not filled.startswith("sqlite"):
        return filled
    file = shutil.copyfile(filled.removeprefix("sqlite:///"), tmp_path_factory.mktemp("bare") / "bare.db")
    with closing(sqlite3.connect(file)) as console:
        for (name,) in console.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            console.execute(f"DROP TRIGGER {name}")
        console.commit()
    return f"sqlite:///{Path(file)}"


def alterations(table: Table, rows: Sequence[Row]) -> Iterator[Alteration]:
    """One value altered, two rows' values swapped, for each column; a row lost, a row forged."""
    if _is_noted_only(table.columns):
        return
    assert rows, f"`fill` makes no row of {table.name}"
    for column in table.columns:
        if f"{table.name}.{column.name}" not in EXEMPT_COLUMNS:
            yield from _altered(column, rows)
            yield from _swapped(column, rows)
    for row in (rows[0], rows[-1]):
        yield Alteration(f"{table.name}: {_shown(table, row)} lost", [delete(table).where(_is(table, row))])
    yield Alteration(f"{table.name}: one forged", [insert(table).values(_forged(table, rows))])


def _altered(column: Column[Any], rows: Sequence[Row]) -> Iterator[Alteration]:
    """The first and the last row, and one in which there is nothing, get another row's value, a new one, or none."""
    empty = [row for row in rows if row[column.name] is None]
    for row in (rows[0], rows[-1], *empty[:1]):
        old = row[column.name]
        others = [each[column.name] for each in rows if each[column.name] not in (old, None)]
        news = [*others[:1], _new(column, rows, old), *([None] if column.nullable and old is not None else [])]
        for new in news:
            change = update(column.table).where(_is(column.table, row)).values({column.name: new})
            if new is None and old == LOCAL and f"{column.table.name}.{column.name}=NULL" in EXEMPT_COLUMNS:
                continue
            name = f"{column.table.name}.{column.name}: {_shown(column.table, row)} {old!r:.40} → {new!r:.40}"
            yield Alteration(name, [change])


def _swapped(column: Column[Any], rows: Sequence[Row]) -> Iterator[Alteration]:
    """Two rows have each other's value: by one statement, and by taking both out and putting both in."""
    one = rows[0]
    others = (row for row in rows if row[column.name] != one[column.name])
    # Rows that are alike in all other columns are the same two when they are swapped.
    other = next((row for row in others if {**row, column.name: None} != {**one, column.name: None}), None)
    if other is None:
        return
    table, name = column.table, f"{column.table.name}.{column.name}: swapped"
    assert isinstance(table, Table)
    theirs = {bool(each is one): literal(each[column.name], column.type) for each in (one, other)}
    values = {column.name: case((_is(table, one), theirs[False]), else_=theirs[True])}
    yield Alteration(name, [update(table).where(_is(table, one) | _is(table, other)).values(values)])
    both = [{**one, column.name: other[column.name]}, {**other, column.name: one[column.name]}]
    taken_out = [delete(table).where(_is(table, each)) for each in (one, other)]
    yield Alteration(f"{name} by new rows", [*taken_out, *(insert(table).values(each) for each in both)])


def _new(column: Column[Any], rows: Sequence[Row], old: object) -> object:
    """A value that no row has in the column."""
    if isinstance(column.type, Text):
        return f"{old or ''}x"
    return 1 + max((row[column.name] for row in rows if row[column.name] is not None), default=0)


def _forged(table: Table, rows: Sequence[Row]) -> Row:
    """A row like the last one, with a key of its own."""
    last = rows[-1]
    keys = [*table.primary_key.columns][-1:]
    unique = [each for each in table.columns if each.unique]
    other = {column.name: _new(column, rows, last[column.name]) for column in (*keys, *unique)}
    if table.name == "lot_changes":
        other["key"] = _new(table.c.key, rows, last["key"])
    return {**last, **other}


def _is(table: Any, row: Row) -> Any:
    return and_(*(each == row[each.name] for each in table.primary_key.columns))


def _is_noted_only(columns: Any) -> bool:
    return all(f"{each.table.name}.{each.name}" in EXEMPT_COLUMNS for each in columns)


def _shown(table: Any, row: Row) -> str:
    return "/".join(str(row[each.name]) for each in table.primary_key.columns)


async def _unseen(url: str, table: Table, *first: str) -> list[str]:
    """Alterations that the database takes and `verify` does not find; each is undone."""
    async with open_database(url) as store:
        return await _unseen_in(store, table, *first)


async def _unseen_in(store: Database, table: Table, *first: str) -> list[str]:
    async with store.reading() as connection:
        rows = (await connection.execute(select(table).order_by(*table.primary_key.columns))).mappings().all()
    known = list[Row](map(dict, rows))
    unseen = []
    for alteration in alterations(table, known):
        async with store.engine.connect() as connection:
            if await _is_taken(connection, [*map(text, first), *alteration.statements]):
                unseen += [] if (await verify_in(connection, None)).mismatch else [alteration.name]
            await connection.rollback()
    return unseen


async def _is_taken(connection: AsyncConnection, statements: Sequence[Executable]) -> bool:
    try:
        for statement in statements:
            await connection.execute(statement)
    except DBAPIError:
        return False
    return True


@pytest.mark.parametrize("table", TABLES)
async def test_what_is_altered_is_refused_or_found(filled: str, table: str) -> None:
    """Whoever has the service's rights on the database can not make a lot pass, or anything else be what it was not."""
    assert [] == await _unseen(filled, metadata.tables[table])


@pytest.mark.parametrize("table", TABLES)
async def test_what_is_altered_without_triggers_is_found(bare: str, table: str) -> None:
    """Nor can whoever owns the database, and has dropped the triggers and all references first."""
    assert [] == await _unseen(bare, metadata.tables[table], *OF_AN_OWNER[urlsplit(bare).scheme])


async def test_what_is_not_looked_for_decides_nothing(catalogue: DatabaseCatalogue, store: Database) -> None:
    """When a key was used is a note, and no name is `local`: with them altered or gone, every answer is the same."""
    keys = DatabaseKeys(store)
    await keys.note_uses([(await add_key(keys, "station-1", frozenset({Scope.CHECK}), None))[0].key])
    await catalogue.add_draft("TB-150", b"{}", digest_of(b"{}"))
    await catalogue.release("TB-150", 1, None, None)
    await catalogue.withdraw("TB-150", 1, "Too weak.")

    async def answers() -> object:
        live = [replace(key, used_at=None) for key in await keys.live()]
        return (
            live,
            (await keys.current_state()).version,
            await catalogue.revisions("TB-150", 0, 9),
            await catalogue.final_revisions("TB-150"),
        )

    before = await answers()
    await without_triggers(store)
    for column in EXEMPT_COLUMNS:
        name, _, null = column.partition("=")
        table = metadata.tables[name.partition(".")[0]]
        noted = [update(table).values(used_at=0), delete(table)] if table is key_uses else []
        for statement in noted or [update(table).values({name.partition(".")[2]: None})]:
            assert noted or null
            async with store.writing() as connection:
                await connection.execute(statement)
            assert before == await answers(), column

    assert (await verify(store)).mismatch is None


def test_nothing_else_reads_when_a_key_was_used() -> None:
    """Who would decide by it would have to take it off the list first."""
    naming = {
        str(path.relative_to("service/storage"))
        for path in Path("service").rglob("*.py")
        if "key_uses" in path.read_text(encoding="utf-8")
    }

    assert {"database/__init__.py", "database/tables.py", "keys.py", "verifying/exempt.py"} == naming
