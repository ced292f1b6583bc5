"""`markeryarn migrate`: upgrade the tables of the database to this release's version."""

import os

import click

from service.cli.failing import ended_by
from service.ports.catalogue import CatalogueAwayError
from service.settings import SettingsError, settings_from
from service.storage.database import SCHEMA, migrate


@click.command(
    "migrate",
    short_help="Bring the database's tables up to date.",
    epilog="Example: MARKERYARN_DATABASE_URL=postgresql:///markeryarn markeryarn migrate",
)
def command() -> None:
    """Bring the tables of the database that MARKERYARN_DATABASE_URL names to this release's version.

    Safe to repeat, and for several to run at once. The release before goes on working on the new tables.
    """
    with ended_by(SettingsError, CatalogueAwayError):
        migrate(settings_from(os.environ).database_url)
    click.echo(f"The tables are of version {SCHEMA}.")
