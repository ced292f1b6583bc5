"""`markeryarn backup`: copy the whole database into one file."""

import asyncio
import os
from pathlib import Path

import click

from service.cli.failing import ended_by
from service.engine.documents import counted
from service.ports.catalogue import CatalogueAwayError
from service.settings import SettingsError, settings_from
from service.storage.copying import Copied, CopyError, back_up
from service.storage.database import open_database


@click.command("backup", short_help="Copy the database into a file.", epilog="Example: markeryarn backup 2026-11-25.gz")
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
def command(file: Path) -> None:
    """Copy the database that MARKERYARN_DATABASE_URL names into FILE, compressed where its name ends in `.gz`.

    The copy is of one moment, and the service goes on meanwhile. Keep it as safe as the database: it has all grades, the names
    of all who have keys, and the digests of the keys. `markeryarn restore` makes either kind of database from it.
    """
    with ended_by(SettingsError, CatalogueAwayError, CopyError):
        copied = asyncio.run(_copied(settings_from(os.environ).database_url, file))
    rows = counted(copied.rows, "row")
    click.echo(f"{file} has {rows}; the journal ends at entry {copied.header.entries}, {copied.header.head}")


async def _copied(url: str, file: Path) -> Copied:
    async with open_database(url) as database:
        return await back_up(database, file)
