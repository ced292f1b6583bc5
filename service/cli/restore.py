"""`markeryarn restore`: restore a copy into an empty database."""

import asyncio
import os
from pathlib import Path

import click

from service.cli.failing import ended_by
from service.ports.catalogue import CatalogueAwayError
from service.settings import SettingsError, settings_from
from service.storage.copying import CopyError, restore


@click.command("restore", short_help="Make a database from a copy.", epilog="Example: markeryarn restore 2026-11-25.gz")
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
@click.option(
    "--keep-misfit",
    "keep_mismatch",
    is_flag=True,
    help="Keep what the copy has though its journal does not fit, where there is no other copy.",
)
def command(file: Path, *, keep_mismatch: bool) -> None:
    """Make the empty database that MARKERYARN_DATABASE_URL names from FILE, and verify its journal.

    All of it is made, or nothing. Nothing that is kept already is ever replaced.
    """
    with ended_by(SettingsError, CatalogueAwayError, CopyError):
        url = settings_from(os.environ).database_url
        copied, found = asyncio.run(restore(url, file, keep_mismatch=keep_mismatch))
    if found.mismatch:
        raise click.ClickException(f"The database is as the copy has it, and its journal does not fit: {found.mismatch.text}")
    click.echo(
        f"{copied.rows} rows are restored, and all {found.entries} entries of the journal fit. The last one is {found.head}"
    )
