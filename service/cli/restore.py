"""`markeryarn restore`: restore a copy into an empty database."""

import asyncio
import os
from pathlib import Path

import click

from service.cli.failing import ended_by
from service.engine.documents import counted
from service.ports.catalogue import CatalogueAwayError
from service.settings import SettingsError, settings_from
from service.storage.copying import CopyError, restore


@click.command("restore", short_help="Make a database from a copy.", epilog="Example: markeryarn restore 2026-11-25.gz")
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
@click.option(
    "--keep-misfit",
    "keep_mismatch",
    is_flag=True,
    help="Restore the copy although it does not match its journal, where there is no other copy.",
)
def command(file: Path, *, keep_mismatch: bool) -> None:
    """Make the empty database that MARKERYARN_DATABASE_URL names from FILE, and verify its journal.

    Everything is restored, or nothing. Nothing in a database that is not empty is replaced.
    """
    with ended_by(SettingsError, CatalogueAwayError, CopyError):
        url = settings_from(os.environ).database_url
        copied, found = asyncio.run(restore(url, file, keep_mismatch=keep_mismatch))
    if found.mismatch:
        raise click.ClickException(f"The copy is restored, and does not match its journal: {found.mismatch.text}")
    click.echo(
        f"{counted(copied.rows, 'row')} restored, and all {found.entries} entries of the journal are in order. "
        f"The last one is {found.head}"
    )
