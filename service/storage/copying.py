"""Backup of the whole database into one file, and restore from it into SQLite or PostgreSQL.

The file has one line of JSON for each row. The first line (`Header`) states the version of the tables, their columns, and the
last entry of the journal; the last line (`End`) the number of rows and the SHA-256 of all lines before it, so that a file that
was cut off or altered is refused before anything is restored from it.
"""

import gzip
import hashlib
import json
import os
import tempfile
import zlib
from collections.abc import AsyncIterator, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, contextmanager, nullcontext
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
    DERIVED,
    SCHEMA,
    Database,
    broken_references,
    catalogue_version,
    journal_head,
    metadata,
    migrate_in,
    now_expression,
    schema_promise,
    schema_transaction,
    to_moment,
)
from service.storage.journal import BEFORE_THE_FIRST, timestamp
from service.storage.verifying import Verified, verify_in

KIND = "markeryarn backup"
FORMAT = 1
BATCH_SIZE = 1000
"""Number of rows read or written at a time."""
ONE_ROW = (catalogue_version.name, journal_head.name)
"""Tables with a single row that a migration inserts; restoring replaces it."""
VERSION = table("alembic_version", column("version_num"))
"""Alembic's table of the version of the tables."""
COPIED = [each for each in metadata.sorted_tables if each not in (schema_promise, *DERIVED)]
"""All tables but `schema_promise`, which migrations set, and those that triggers fill; each behind those that it refers to."""
KNOWN_TABLES = {*metadata.tables, VERSION.name}
USE_AN_EMPTY_ONE = "Name a new one in MARKERYARN_DATABASE_URL."


class CopyError(Exception):
    """A copy can't be written or used; the message says why and what to do."""


class Header(Struct, frozen=True):
    """The first line of a copy."""

    kind: str
    format: int
    tables: str
    """Version of the tables."""
    at: str
    entries: int
    """Number of entries of the journal."""
    head: str
    """Digest of the journal's last entry."""
    columns: Mapping[str, Sequence[str]]
    """Names of the columns by table, in the order of the values in each row."""


class End(Struct, frozen=True):
    """The last line of a copy."""

    rows: int
    sha256: str


class Copied(NamedTuple):
    """The header of a copy and its number of rows."""

    header: Header
    rows: int


class Restored(NamedTuple):
    """A restored copy, and the result of its verification."""

    copied: Copied
    found: Verified


async def back_up(database: Database, file: Path) -> Copied:
    """Copy a snapshot of the whole database into a new file, while others write.

    The file gets its name when all of it is on the disk; a name that ends in `.gz` compresses it. Tables of an older release
    are copied unchanged, so that a copy can be made before they are migrated. Raises CopyError, CatalogueAwayError.
    """
    tables = await DatabaseCatalogue(database).tables_version()
    if tables is None:
        raise CopyError("The database has no tables, so there is nothing to copy. Name another one in MARKERYARN_DATABASE_URL.")
    if tables.version > SCHEMA:
        text = f"The database has tables of version {tables.version}, and this release knows {SCHEMA}. Use a newer release."
        raise CopyError(text)
    # A snapshot across all tables: rows that refer to each other, and the journal, have to be of one moment.
    async with database.snapshot() as connection:
        columns = await connection.run_sync(_existing_columns)
        version = (await connection.execute(select(VERSION))).scalar_one()
        number, head = await _end_of_journal(connection, columns)
        now: Moment = to_moment((await connection.execute(select(now_expression(connection)))).scalar_one())
        header = Header(KIND, FORMAT, version, timestamp(now), number, head, columns)
        with _new_file(file) as sink:
            digest, rows = sha256(), 0
            _write_line(sink, digest, msgspec.to_builtins(header))
            async for name, row in _rows(connection, columns):
                _write_line(sink, digest, [name, *row])
                rows += 1
            _write_line(sink, sha256(), msgspec.to_builtins(End(rows, digest.hexdigest())))
    return Copied(header, rows)


def _existing_columns(connection: Connection) -> dict[str, list[str]]:
    """Return the names of the columns that exist in this database, by table."""
    inspector = inspect(connection)
    names = set(inspector.get_table_names())
    columns = {}
    for each in COPIED:
        if each.name in names:
            existing = {column["name"] for column in inspector.get_columns(each.name)}
            columns[str(each.name)] = [str(column.name) for column in each.columns if column.name in existing]
    return columns


async def _end_of_journal(connection: AsyncConnection, columns: Mapping[str, object]) -> tuple[int, str]:
    """Return number and digest of the last entry; (0, BEFORE_THE_FIRST) for tables from before there was a journal."""
    if journal_head.name not in columns:
        return 0, BEFORE_THE_FIRST
    head = (await connection.execute(select(journal_head))).one()
    return head.number, head.digest


async def _rows(connection: AsyncConnection, columns: Mapping[str, Sequence[str]]) -> AsyncIterator[tuple[str, Sequence[Any]]]:
    """All rows as (table name, values), each table in order of its primary key."""
    for each in COPIED:
        if each.name in columns:
            query = select(*(each.c[name] for name in columns[each.name])).order_by(*each.primary_key.columns)
            async for row in await connection.stream(query, execution_options={"yield_per": BATCH_SIZE}):
                yield each.name, row


async def restore(url: str, file: Path, *, keep_mismatch: bool = False) -> Restored:
    """Restore a copy into an empty database and verify it, in one transaction.

    keep_mismatch  whether a copy that does not pass verification is restored too, for a caller who has no other copy

    A copy of older tables is loaded into tables of their version, which are then migrated. Raises CopyError,
    CatalogueAwayError.
    """
    # The file is read twice: once before any database is touched, and once to load it, each time against its SHA-256.
    copied = _check(file)
    header = copied.header
    if header.tables > SCHEMA:
        text = f"The copy has tables of version {header.tables}, and this release knows {SCHEMA}. Use a newer release."
        raise CopyError(text)
    async with schema_transaction(url) as connection:
        await _make_tables(connection, header.tables)
        await _load(connection, header, file)
        await migrate_in(connection)
        found = await verify_in(connection, header.head)
        if found.mismatch and not keep_mismatch:
            text = f"The copy does not match its journal: {found.mismatch.text} Nothing was restored. Use another copy,"
            raise CopyError(f"{text} or `--keep-misfit` if there is none.")
    return Restored(copied, found)


async def _make_tables(connection: AsyncConnection, version: str) -> None:
    """Create tables of this version, empty but for rows of migrations. Raises CopyError if other tables or rows exist."""
    names = set(await connection.run_sync(lambda plain: inspect(plain).get_table_names()))
    if others := sorted(names - KNOWN_TABLES):
        raise CopyError(f"The database has the table {quoted(others[0])}, which is not one of this service. {USE_AN_EMPTY_ONE}")
    for each in COPIED:
        if each.name in names.difference(ONE_ROW) and (await connection.execute(select(1).select_from(each).limit(1))).first():
            raise CopyError(f"The database is not empty, and nothing in it is replaced. {USE_AN_EMPTY_ONE}")
    found = (await connection.execute(select(VERSION))).scalar_one_or_none() if VERSION.name in names else None
    if found is not None and found > SCHEMA:
        raise CopyError(f"The database has tables of version {found}, and this release knows {SCHEMA}. {USE_AN_EMPTY_ONE}")
    await migrate_in(connection, version, down=found is not None and found > version)


async def _load(connection: AsyncConnection, header: Header, file: Path) -> None:
    """Insert the rows of a copy. Raises CopyError if the tables refuse them."""
    for name in ONE_ROW:
        if name in header.columns:
            await connection.execute(delete(table(name)))
    for name, rows in _batches(file):
        names = header.columns.get(name, ())
        try:
            into = insert(table(name, *map(column, names)))
            await connection.execute(into, [dict(zip(names, row, strict=True)) for row in rows])
        except (IntegrityError, DataError, ValueError) as error:
            raise CopyError(f"The copy has rows of {quoted(name)} that don't fit the table. Use another copy.") from error
    if await broken_references(connection):
        raise CopyError("The copy has rows that refer to missing rows. Use another copy.")


def _check(file: Path) -> Copied:
    """Read a copy to its end. Raises CopyError for another kind of file, and for a copy that was cut off or altered."""
    header = _header(next(_lines(file), b""), file)
    return Copied(header, sum(1 for _ in _row_lines(file)))


def _header(line: bytes, file: Path) -> Header:
    """Decode the first line. Raises CopyError if it is no header of this format."""
    if not line:
        raise CopyError(f"{quoted(file)} is empty. Name a file that `markeryarn backup` has written.")
    try:
        header = msgspec.json.decode(line, type=Header)
    except msgspec.DecodeError:
        header = None
    if header is None or header.kind != KIND:
        raise CopyError(f"{quoted(file)} is not a copy of a database. Name a file that `markeryarn backup` has written.")
    if header.format != FORMAT:
        raise CopyError(f"{quoted(file)} was made by a newer release, in format {header.format}. Use that release.")
    return header


def _batches(file: Path) -> Iterator[tuple[str, list[list[Any]]]]:
    """Batches of at most BATCH_SIZE rows of one table, as (table name, rows), in the order of the file."""
    name, batch = "", list[list[Any]]()
    for line in map(json.loads, _row_lines(file)):
        if line[0] != name or len(batch) == BATCH_SIZE:
            if batch:
                yield name, batch
            name, batch = line[0], []
        batch.append(line[1:])
    if batch:
        yield name, batch


def _row_lines(file: Path) -> Iterator[bytes]:
    """The lines between the first and the last. Raises CopyError at the end if the last line does not match them."""
    # One line behind, as only the end of the file shows which line is the last; -1 for the header, which is no row.
    digest, rows, previous = sha256(), -1, b""
    for line in _lines(file):
        if previous:
            digest.update(previous)
            rows += 1
        if rows > 0:
            yield previous
        previous = line
    try:
        end = msgspec.json.decode(previous, type=End)
    except msgspec.DecodeError:
        raise CopyError(f"{quoted(file)} was cut off: its last line is missing. Use another copy.") from None
    if end != End(rows, digest.hexdigest()):
        raise CopyError(f"{quoted(file)} was altered: its SHA-256 is not the one in its last line. Use another copy.")


def _lines(file: Path) -> Iterator[bytes]:
    """The lines of a file, decompressed if its name ends in `.gz`. Raises CopyError if it can't be read."""
    try:
        with gzip.open(file) if file.suffix == ".gz" else file.open("rb") as source:
            yield from source
    except FileNotFoundError:
        raise CopyError(f"There is no file {quoted(file)}. Name one that `markeryarn backup` has written.") from None
    except (EOFError, zlib.error, gzip.BadGzipFile):
        raise CopyError(f"{quoted(file)} was cut off or altered: it can't be decompressed. Use another copy.") from None
    except OSError as error:
        raise CopyError(f"{quoted(file)} can't be read ({error.strerror}). Name another one.") from None


def _write_line(sink: IO[bytes], digest: "hashlib._Hash", line: object) -> None:
    content = json.dumps(line, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"
    digest.update(content)
    sink.write(content)


def _sink(plain: IO[bytes], file: Path) -> AbstractContextManager[IO[bytes]]:
    """A stream into an open file, compressed if the name that the file is to get ends in `.gz`."""
    if file.suffix == ".gz":
        return cast("AbstractContextManager[IO[bytes]]", gzip.GzipFile(fileobj=plain, mode="wb"))
    return nullcontext(plain)


@contextmanager
def _new_file(file: Path) -> Iterator[IO[bytes]]:
    """Open a file that only its owner can read and that gets its name once it is on the disk. Raises CopyError."""
    if file.exists():
        raise CopyError(f"{quoted(file)} already exists. Name another file, or move that one away.")
    part = None
    try:
        # mkstemp makes a unique name, so that two copies at once don't overwrite each other, and rights of the owner alone.
        descriptor, name = tempfile.mkstemp(prefix=f".{file.name}.", dir=file.parent)
        part = Path(name)
        with os.fdopen(descriptor, "wb") as plain:
            # Left before the flush, since gzip writes its trailer as it closes.
            with _sink(plain, file) as sink:
                yield sink
            plain.flush()
            os.fsync(plain.fileno())
        part.replace(file)
        # A new name is only durable once its folder is.
        folder = os.open(file.parent, os.O_RDONLY)
        os.fsync(folder)
        os.close(folder)
    except OSError as error:
        raise CopyError(f"{quoted(file)} can't be written ({error.strerror}). Name another one, or free some space.") from error
    finally:
        if part is not None:
            part.unlink(missing_ok=True)
