"""`markeryarn journal`: print the entries of the journal, one per line."""

import asyncio
import os

import click

from service.cli.failing import ended_by
from service.ports.catalogue import CatalogueAwayError
from service.settings import SettingsError, settings_from
from service.storage.database import open_database
from service.storage.journal import DatabaseJournal

BATCH_SIZE = 1000


@click.command("journal", short_help="Print the journal.", epilog="Example: markeryarn journal > journal.ndjson")
def command() -> None:
    """Print all entries of the journal in their order, each as the line of JSON that its digest was taken of.

    The SHA-256 of a line, without its end, is what the next one calls `previous`.
    """
    with ended_by(SettingsError, CatalogueAwayError):
        asyncio.run(_print(settings_from(os.environ).database_url))


async def _print(url: str) -> None:
    after = 0
    async with open_database(url) as database:
        journal = DatabaseJournal(database)
        while entries := await journal.entries(after, BATCH_SIZE):
            for entry, _ in entries:
                # The stored bytes: encoded again, a line could have another digest.
                click.echo(bytes(entry))
            after += len(entries)
