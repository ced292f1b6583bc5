"""A copy of the whole database in one file, which either database can be made from again.

The file has a line of JSON a row. The first says of which version the tables are, which columns they have, and where the
journal ends; the last has the number of rows and the SHA-256 of all lines before it, so that a file that was cut off or
altered is found out before anything is made from it.
"""

import gzip
import hashlib
import json
import os
import tempfile
import zlib
from collections.abc import AsyncIterator, Iterator, Mapping, Sequence
from contextlib import contextmanager
from hashlib import sha256
from pathlib import Path
from typing import IO, Any, NamedTuple, cast

import msgspec
from msgspec import Struct
from sqlalchemy import Connection, column, delete, insert, inspect, select, table
from sqlalchemy.exc import DataError, IntegrityError
from sqlalchemy.ext.asyncio import AsyncConnection

from service.engine.documents import quoted
from service.ports.catalogue import Moment
from service.storage.catalogue import DatabaseCatalogue
from service.storage.database import (
    SCHEMA,
    Database,
    broken_references,
    catalogue_version,
    journal_head,
    making_tables,
    metadata,
    migrate_in,
    moment,
    now_of,
    schema_promise,
)
from service.storage.journal import BEFORE_THE_FIRST, in_entry
from service.storage.verifying import Verified, verify_in

KIND = "markeryarn backup"
FORMAT = 1
AT_ONCE = 1000
"""Rows are read and written in parts of so many."""
ONE_ROW = (catalogue_version.name, journal_head.name)
"""Tables whose one row migrations make, and a copy replaces."""
VERSION = table("alembic_version", column("version_num"))
"""The table in which Alembic keeps of which version they are."""
COPIED = [each for each in metadata.sorted_tables if each is not schema_promise]
"""All but what migrations say of the tables themselves, each behind those that it refers to."""
OURS = {*metadata.tables, VERSION.name}
EMPTY_ONE = "Name a new one by MARKERYARN_DATABASE_URL."


class CopyError(Exception):
    """A copy can't be made or used; the text says why and what to do."""


class Header(Struct, frozen=True):
    """The first line of a copy."""

    kind: str
    format: int
    tables: str
    """The version that the tables are of."""
    at: str
    entries: int
    """Of the journal."""
    head: str
    """The digest of its last entry."""
    columns: Mapping[str, Sequence[str]]
    """By table, in the order of the rows."""


class End(Struct, frozen=True):
    """The last line of a copy."""

    rows: int
    sha256: str


class Copied(NamedTuple):
    """What a copy holds."""

    header: Header
    rows: int


class Restored(NamedTuple):
    """What a copy held, and whether its journal fits."""

    copied: Copied
    found: Verified


async def back_up(database: Database, file: Path) -> Copied:
    """Copy all that is kept, as it is at one moment whoever writes meanwhile, into a new file.

    The file has its name only when all of it is on the disk. `.gz` at the end of its name compresses it. Tables of an older
    release are copied as they are, so that there is a copy before they are migrated. Raises CopyError, CatalogueAwayError.
    """
    tables = await DatabaseCatalogue(database).tables()
    if tables is None:
        raise CopyError("The database has no tables, so there is nothing to copy. Name another one by MARKERYARN_DATABASE_URL.")
    if tables.version > SCHEMA:
        text = f"The database has tables of version {tables.version}, and this release knows {SCHEMA}. Use a newer release."
        raise CopyError(text)
    async with database.one_state() as connection:
        columns = await connection.run_sync(_columns_there)
        version = (await connection.execute(select(VERSION))).scalar_one()
        number, head = await _end_of_journal(connection, columns)
        now: Moment = moment((await connection.execute(select(now_of(connection)))).scalar_one())
        header = Header(KIND, FORMAT, version, in_entry(now), number, head, columns)
        with _new(file) as sink:
            digest, rows = sha256(), 0
            _put(sink, digest, msgspec.to_builtins(header))
            async for name, row in _rows(connection, columns):
                _put(sink, digest, [name, *row])
                rows += 1
            _put(sink, sha256(), msgspec.to_builtins(End(rows, digest.hexdigest())))
    return Copied(header, rows)


def _columns_there(connection: Connection) -> dict[str, list[str]]:
    """By table, the columns that it has in this database."""
    look = inspect(connection)
    names = set(look.get_table_names())
    columns = {}
    for each in COPIED:
        if each.name in names:
            there = {found["name"] for found in look.get_columns(each.name)}
            columns[str(each.name)] = [str(of.name) for of in each.columns if of.name in there]
    return columns


async def _end_of_journal(connection: AsyncConnection, columns: Mapping[str, object]) -> tuple[int, str]:
    """The number and the digest of its last entry; before the first one where there was no journal yet."""
    if journal_head.name not in columns:
        return 0, BEFORE_THE_FIRST
    head = (await connection.execute(select(journal_head))).one()
    return head.number, head.digest


async def _rows(connection: AsyncConnection, columns: Mapping[str, Sequence[str]]) -> AsyncIterator[tuple[str, Sequence[Any]]]:
    """All rows of all tables, by their keys."""
    for each in COPIED:
        if each.name in columns:
            query = select(*(each.c[name] for name in columns[each.name])).order_by(*each.primary_key.columns)
            async for part in (await connection.stream(query)).partitions(AT_ONCE):
                for row in part:
                    yield each.name, row


async def restore(url: str, file: Path, *, keeps_misfit: bool = False) -> Restored:
    """Make the tables of an empty database from a copy, and verify its journal: all of that, or nothing.

    keeps_misfit  whether what is in the copy is kept though its journal does not fit, for those who have no other

    A copy of older tables is put into tables of their version, which are then migrated, all in one transaction. Raises
    CopyError, CatalogueAwayError.
    """
    copied = _looked_over(file)
    header = copied.header
    if header.tables > SCHEMA:
        text = f"The copy has tables of version {header.tables}, and this release works on {SCHEMA}. Use a newer release."
        raise CopyError(text)
    async with making_tables(url) as connection:
        await _make_tables(connection, header.tables)
        await _load(connection, header, file)
        await migrate_in(connection)
        found = await verify_in(connection, header.head)
        if found.misfit and not keeps_misfit:
            text = f"The journal in the copy does not fit: {found.misfit.text} Nothing was made. Use another copy,"
            raise CopyError(f"{text} or `--keep-misfit` if there is none.")
    return Restored(copied, found)


async def _make_tables(connection: AsyncConnection, version: str) -> None:
    """Tables of this version without a row but those that migrations make. Raises CopyError where there are others."""
    names = set(await connection.run_sync(lambda plain: inspect(plain).get_table_names()))
    if others := sorted(names - OURS):
        raise CopyError(f"The database has the table {quoted(others[0])}, which is none of ours. {EMPTY_ONE}")
    for each in COPIED:
        if each.name in names.difference(ONE_ROW) and (await connection.execute(select(1).select_from(each).limit(1))).first():
            raise CopyError(f"The database is not empty, and nothing in it is replaced. {EMPTY_ONE}")
    found = (await connection.execute(select(VERSION))).scalar_one_or_none() if VERSION.name in names else None
    if found is not None and found > SCHEMA:
        raise CopyError(f"The database has tables of version {found}, and this release knows {SCHEMA}. {EMPTY_ONE}")
    await migrate_in(connection, version, down=found is not None and found > version)


async def _load(connection: AsyncConnection, header: Header, file: Path) -> None:
    """Insert the rows of a copy. Raises CopyError where the tables don't take them."""
    for name in ONE_ROW:
        if name in header.columns:
            await connection.execute(delete(table(name)))
    for name, rows in _parts(file):
        names = header.columns.get(name, ())
        try:
            into = insert(table(name, *map(column, names)))
            await connection.execute(into, [dict(zip(names, row, strict=True)) for row in rows])
        except (IntegrityError, DataError, ValueError) as error:
            raise CopyError(f"The copy has rows of {quoted(name)} that its tables don't take. Use another copy.") from error
    if await broken_references(connection):
        raise CopyError("The copy has rows that refer to rows which are not in it. Use another copy.")


def _looked_over(file: Path) -> Copied:
    """What a copy holds, all of it read once. Raises CopyError for one that is none, was cut off, or altered."""
    header = _header(next(_lines(file), b""), file)
    return Copied(header, sum(1 for _ in _row_lines(file)))


def _header(line: bytes, file: Path) -> Header:
    """The first line. Raises CopyError where it is none of ours."""
    if not line:
        raise CopyError(f"{quoted(file)} is empty. Name a file that `markeryarn backup` has made.")
    try:
        header = msgspec.json.decode(line, type=Header)
    except msgspec.DecodeError:
        header = None
    if header is None or header.kind != KIND:
        raise CopyError(f"{quoted(file)} is no copy of ours. Name a file that `markeryarn backup` has made.")
    if header.format != FORMAT:
        raise CopyError(f"{quoted(file)} was made by a newer release, in format {header.format}. Use that release.")
    return header


def _parts(file: Path) -> Iterator[tuple[str, list[list[Any]]]]:
    """The rows of a copy that was looked over, some of one table at a time, in their order."""
    name, part = "", list[list[Any]]()
    for line in map(json.loads, _row_lines(file)):
        if line[0] != name or len(part) == AT_ONCE:
            if part:
                yield name, part
            name, part = line[0], []
        part.append(line[1:])
    if part:
        yield name, part


def _row_lines(file: Path) -> Iterator[bytes]:
    """The lines between the first and the last. Raises CopyError behind them unless the last one says what stood before it."""
    digest, rows, held = sha256(), -1, b""
    for line in _lines(file):
        if held:
            digest.update(held)
            rows += 1
        if rows > 0:
            yield held
        held = line
    try:
        end = msgspec.json.decode(held, type=End)
    except msgspec.DecodeError:
        raise CopyError(f"{quoted(file)} was cut off: its last line is missing. Use another copy.") from None
    if end != End(rows, digest.hexdigest()):
        raise CopyError(f"{quoted(file)} was altered: it has another SHA-256 than its last line says. Use another copy.")


def _lines(file: Path) -> Iterator[bytes]:
    """The lines of a file, decompressed where its name says so. Raises CopyError where it can't be read."""
    try:
        with gzip.open(file) if file.suffix == ".gz" else file.open("rb") as source:
            yield from source
    except FileNotFoundError:
        raise CopyError(f"There is no file {quoted(file)}. Name one that `markeryarn backup` has made.") from None
    except (EOFError, zlib.error, gzip.BadGzipFile):
        raise CopyError(f"{quoted(file)} was cut off or altered: it can't be decompressed. Use another copy.") from None
    except OSError as error:
        raise CopyError(f"{quoted(file)} can't be read ({error.strerror}). Name another one.") from None


def _put(sink: IO[bytes], digest: "hashlib._Hash", line: object) -> None:
    content = json.dumps(line, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"
    digest.update(content)
    sink.write(content)


@contextmanager
def _new(file: Path) -> Iterator[IO[bytes]]:
    """A file that has its name when all of it is on the disk, and that others can't read. Raises CopyError."""
    if file.exists():
        raise CopyError(f"{quoted(file)} is there already. Name another file, or move that one away.")
    part = None
    try:
        # A name of its own, so that two copies at once don't write into each other; only its owner can read it.
        descriptor, name = tempfile.mkstemp(prefix=f".{file.name}.", dir=file.parent)
        part = Path(name)
        with os.fdopen(descriptor, "wb") as plain:
            if file.suffix == ".gz":
                with gzip.GzipFile(fileobj=plain, mode="wb") as compressed:
                    yield cast("IO[bytes]", compressed)
            else:
                yield plain
            plain.flush()
            os.fsync(plain.fileno())
        part.replace(file)
        folder = os.open(file.parent, os.O_RDONLY)
        os.fsync(folder)
        os.close(folder)
    except OSError as error:
        raise CopyError(f"{quoted(file)} can't be written ({error.strerror}). Name another one, or make room.") from error
    finally:
        if part is not None:
            part.unlink(missing_ok=True)
