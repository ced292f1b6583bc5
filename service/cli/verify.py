"""`markeryarn verify`: whether the journal is whole, and the tables say what it says."""

import asyncio
import os

import click

from service.cli.failing import ended_by
from service.ports import CatalogueAwayError
from service.settings import SettingsError, settings_from
from service.storage.connecting import opened
from service.storage.verifying import Verified, verify


@click.command(
    "verify",
    short_help="Walk the journal and find what does not fit.",
    epilog="Example: markeryarn verify --head sha256:0f3c…",
)
@click.option("--head", metavar="DIGEST", help="A digest noted before, which has to be among the entries.")
def command(head: str | None) -> None:
    """Walk the journal of the database that MARKERYARN_DATABASE_URL names, and compare the tables with it.

    Names the first entry that does not fit, with exit status 1. Note the digest that it prints, elsewhere: given as --head the
    next time, it shows that nothing was cut off the journal's end.
    """
    with ended_by(SettingsError, CatalogueAwayError):
        found = asyncio.run(_verified(settings_from(os.environ).database_url, head))
    if found.misfit:
        raise click.ClickException(found.misfit.text)
    entries = "1 entry fits" if found.entries == 1 else f"All {found.entries} entries fit"
    click.echo(f"{entries}, and the tables say the same. The last one is {found.head}")


async def _verified(url: str, head: str | None) -> Verified:
    async with opened(url) as kept:
        return await verify(kept, head)
