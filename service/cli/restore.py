"""`markeryarn restore`: an empty database made from a copy."""

import asyncio
import os
from pathlib import Path

import click

from service.cli.failing import ended_by
from service.ports import CatalogueAwayError
from service.settings import SettingsError, settings_from
from service.storage.connecting import opened
from service.storage.copying import Copied, CopyError, restore
from service.storage.verifying import Verified, verify


@click.command("restore", short_help="Make a database from a copy.", epilog="Example: markeryarn restore 2026-11-25.gz")
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
def command(file: Path) -> None:
    """Make the empty database that MARKERYARN_DATABASE_URL names from FILE, and verify its journal.

    All of FILE is looked over before anything is made. Nothing that is kept already is ever replaced.
    """
    with ended_by(SettingsError, CatalogueAwayError, CopyError):
        copied, found = asyncio.run(_restored(settings_from(os.environ).database_url, file))
    if found.misfit:
        raise click.ClickException(f"The database is as the copy has it, and its journal does not fit: {found.misfit.text}")
    click.echo(
        f"{copied.rows} rows are restored, and all {found.entries} entries of the journal fit. The last one is {found.head}"
    )


async def _restored(url: str, file: Path) -> tuple[Copied, Verified]:
    async with opened(url) as kept:
        copied = await restore(kept, url, file)
        return copied, await verify(kept, copied.header.head)
