"""Databases for tests: empty ones, and ones whose tables are made, copied from one that was migrated once."""

import asyncio
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cached_property
from pathlib import Path
from uuid import uuid4

import asyncpg  # type: ignore[import-untyped]  # it comes without types
import pytest

from service.storage.database import migrate

BOTH = ("sqlite", "postgresql")
"""The kinds of databases."""
RULES_ON = ["sqlite", pytest.param("postgresql", marks=pytest.mark.long("what is decided does not depend on the database"))]
"""Rules of the trade are tried on SQLite; that the ports do the same on both databases is tried in tests/storage."""


class Databases:
    """Makes them, one for a test, on either database; what they are copied from is migrated when the first is asked for."""

    def __init__(self, folder: Path, server: Callable[[], str]) -> None:
        """Keep files in the folder.

        server  gives the URL of a PostgreSQL server, DATABASE where the name of one goes; not called while nobody asks for one
        """
        self._folder, self._server = folder, server

    @contextmanager
    def empty(self, kind: str) -> Iterator[str]:
        """The URL of one without tables, gone afterwards; `kind` is one of BOTH."""
        if kind == "sqlite":
            yield f"sqlite:///{self._file()}"
        else:
            with dropped(self._server(), new_database(self._server())) as url:
                yield url

    @contextmanager
    def migrated(self, kind: str) -> Iterator[str]:
        """The URL of one whose tables are up to date, and empty; gone afterwards."""
        if kind == "sqlite":
            yield f"sqlite:///{self.migrated_file(self._file())}"
        else:
            with dropped(self._server(), new_database(self._server(), of=self._template)) as url:
                yield url

    def migrated_file(self, file: Path) -> Path:
        """The same at this place, which is not there yet."""
        return Path(shutil.copyfile(self._migrated_file, file))

    def _file(self) -> Path:
        return self._folder / f"{uuid4().hex}.db"

    @cached_property
    def _migrated_file(self) -> Path:
        file = self._folder / "template.db"
        migrate(f"sqlite:///{file}")
        # What stands in the log of SQLite's WAL mode comes into the file, as that alone is copied.
        with sqlite3.connect(file) as connection:
            connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        connection.close()
        return file

    @cached_property
    def _template(self) -> str:
        url = new_database(self._server())
        migrate(url)
        return name_in(url)


def new_database(server: str, of: str | None = None) -> str:
    """The URL of a database of its own: an empty one, or a copy of the database of this name, to which nobody is connected."""
    name = f"markeryarn_{uuid4().hex}"
    asyncio.run(_execute(server.replace("DATABASE", "postgres"), f"CREATE DATABASE {name}{f' TEMPLATE {of}' if of else ''}"))
    return server.replace("DATABASE", name)


@contextmanager
def dropped(server: str, url: str) -> Iterator[str]:
    """The URL of a database that is there until the end, whoever is still connected to it by then."""
    yield url
    asyncio.run(_execute(server.replace("DATABASE", "postgres"), f"DROP DATABASE {name_in(url)} WITH (FORCE)"))


def name_in(url: str) -> str:
    """The name of the database at a URL."""
    return url.partition("?")[0].rpartition("/")[2]


async def _execute(url: str, statement: str) -> None:
    connection = await asyncpg.connect(url)
    try:
        await connection.execute(statement)
    finally:
        await connection.close()
