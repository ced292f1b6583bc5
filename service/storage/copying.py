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
from sqlalchemy import column, delete, insert, inspect, select, table
from sqlalchemy.ext.asyncio import AsyncConnection

from service.engine.flaws import quoted
from service.ports import Moment
from service.storage.catalogue import DatabaseCatalogue
from service.storage.connecting import Database
from service.storage.journal import in_entry
from service.storage.migrating import migrate_database
from service.storage.moments import moment, now_of
from service.storage.tables import SCHEMA, catalogue_version, journal_head, metadata, schema_promise

KIND = "markeryarn backup"
FORMAT = 1
AT_ONCE = 1000
"""Rows are read and written in parts of so many."""
ONE_ROW = (catalogue_version.name, journal_head.name)
"""Tables whose one row migrations make, and a copy replaces."""
COPIED = [each for each in metadata.sorted_tables if each is not schema_promise]
"""All but what migrations say of the tables themselves, each behind those that it refers to."""


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


async def back_up(database: Database, file: Path) -> Copied:
    """Copy all that is kept, as it is at one moment whoever writes meanwhile, into a new file.

    The file has its name only when all of it is on the disk. `.gz` at the end of its name compresses it. Raises CopyError,
    CatalogueAwayError.
    """
    tables = await DatabaseCatalogue(database).tables()
    if tables is None or tables.version != SCHEMA:
        raise CopyError("The database has not the tables of this release. Run `markeryarn migrate` first.")
    async with database.one_state() as connection:
        head = (await connection.execute(select(journal_head))).one()
        now: Moment = moment((await connection.execute(select(now_of(connection)))).scalar_one())
        columns = {str(each.name): [str(of.name) for of in each.columns] for each in COPIED}
        header = Header(KIND, FORMAT, SCHEMA, in_entry(now), head.number, head.digest, columns)
        with _new(file) as sink:
            digest, rows = sha256(), 0
            _put(sink, digest, msgspec.to_builtins(header))
            async for name, row in _rows(connection):
                _put(sink, digest, [name, *row])
                rows += 1
            _put(sink, sha256(), msgspec.to_builtins(End(rows, digest.hexdigest())))
    return Copied(header, rows)


async def restore(database: Database, url: str, file: Path) -> Copied:
    """Make the tables of an empty database from a copy, in one transaction. Raises CopyError, CatalogueAwayError.

    A copy of older tables is put into tables of their version, which are then migrated.
    """
    copied = _looked_over(file)
    header = copied.header
    if header.tables > SCHEMA:
        text = f"The copy has tables of version {header.tables}, and this release works on {SCHEMA}. Use a newer release."
        raise CopyError(text)
    await _make_tables(database, url, header.tables)
    async with database.writing() as connection:
        for name in ONE_ROW:
            if name in header.columns:
                await connection.execute(delete(table(name)))
        for name, rows in _parts(file):
            into = table(name, *map(column, header.columns[name]))
            await connection.execute(insert(into), [dict(zip(header.columns[name], row, strict=True)) for row in rows])
    await migrate_database(url)
    return copied


async def _rows(connection: AsyncConnection) -> AsyncIterator[tuple[str, Sequence[Any]]]:
    """All rows of all tables, by their keys."""
    for each in COPIED:
        result = await connection.stream(select(each).order_by(*each.primary_key.columns))
        async for part in result.partitions(AT_ONCE):
            for row in part:
                yield each.name, row


async def _make_tables(database: Database, url: str, version: str) -> None:
    """Tables of this version without a row but those that migrations make. Raises CopyError where there are others."""
    found = await DatabaseCatalogue(database).tables()
    async with database.reading() as connection:
        names = set(await connection.run_sync(lambda plain: inspect(plain).get_table_names()))
        for each in COPIED:
            if (
                each.name in names.difference(ONE_ROW)
                and (await connection.execute(select(1).select_from(each).limit(1))).first()
            ):
                text = "The database is not empty, and nothing in it is replaced. Name a new one by MARKERYARN_DATABASE_URL."
                raise CopyError(text)
    await migrate_database(url, version, down=found is not None and found.version > version)


def _looked_over(file: Path) -> Copied:
    """What a copy holds, all of it read once. Raises CopyError for one that is none, was cut off, or altered."""
    digest, rows, header, last = sha256(), 0, None, b""
    for line in _lines(file):
        if header is None:
            header = _header(line, file)
        if last:
            digest.update(last)
            rows += 1
        last = line
    if header is None:
        raise CopyError(f"{quoted(file)} is empty. Name a file that `markeryarn backup` has made.")
    try:
        end = msgspec.json.decode(last, type=End)
    except msgspec.DecodeError:
        raise CopyError(f"{quoted(file)} was cut off: its last line is missing. Use another copy.") from None
    # The header is a line, and no row.
    if end != End(rows - 1, digest.hexdigest()):
        raise CopyError(f"{quoted(file)} was altered: it has another SHA-256 than its last line says. Use another copy.")
    return Copied(header, end.rows)


def _header(line: bytes, file: Path) -> Header:
    """The first line. Raises CopyError where it is none of ours."""
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
    for line in _row_lines(file):
        if line[0] != name or len(part) == AT_ONCE:
            if part:
                yield name, part
            name, part = line[0], []
        part.append(line[1:])
    if part:
        yield name, part


def _row_lines(file: Path) -> Iterator[list[Any]]:
    """The lines between the first and the last."""
    lines = _lines(file)
    next(lines)
    held = next(lines)
    for line in lines:
        yield json.loads(held)
        held = line


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
