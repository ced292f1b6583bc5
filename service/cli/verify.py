"""`markeryarn verify`: verify the journal, and all tables against it."""

import asyncio
import os

import click
from msgspec import UnsetType

from service.cli.failing import ended_by
from service.engine.documents import Missing, counted
from service.ports.catalogue import CatalogueAwayError
from service.settings import SettingsError, settings_from
from service.storage.catalogue import DatabaseCatalogue
from service.storage.database import open_database
from service.storage.lots import DatabaseLedger
from service.storage.verifying import Verified, verify
from service.usecases.grades import GradeCache
from service.usecases.lots import ClosedShort, closed_short


@click.command(
    "verify",
    short_help="Check the journal and the tables.",
    epilog="Example: markeryarn verify --head sha256:0f3c…",
)
@click.option("--head", metavar="DIGEST", help="A digest noted before, which must be among the entries.")
def command(head: str | None) -> None:
    """Check the journal of the database that MARKERYARN_DATABASE_URL names, and compare each row of each table with it.

    Prints the first entry or row that does not match, with exit status 1: its table, its column, the value that is there and
    the value that should be. Lists the lots that an earlier release closed although readings were missing; send those by a
    correction. Note the digest that is printed in another place: given as --head the next time, it shows that no entry was
    removed from the journal's end.
    """
    with ended_by(SettingsError, CatalogueAwayError):
        found, short = asyncio.run(_verified(settings_from(os.environ).database_url, head))
    if found.mismatch:
        raise click.ClickException(found.mismatch.text)
    entries = "1 entry is" if found.entries == 1 else f"All {found.entries} entries are"
    click.echo(f"{entries} in order, and the tables match. The last one is {found.head}")
    for each in short:
        lacks = " and ".join(map(_lacks, each.missing))
        remedy = f"Send what is missing with `POST /v1/lots/{each.lot}/corrections`."
        click.echo(f"Lot {each.lot} was closed too early: its sample lacks {lacks}. {remedy}")


async def _verified(url: str, head: str | None) -> tuple[Verified, list[ClosedShort]]:
    """Verify a database, and return the result with the lots that were closed too early."""
    async with open_database(url) as database:
        found = await verify(database, head)
        # Nothing is judged from rows that don't agree with the journal.
        if found.mismatch:
            return found, []
        ledger, grade_cache = DatabaseLedger(database), GradeCache(DatabaseCatalogue(database))
        return found, [each async for each in closed_short(ledger, grade_cache)]


def _lacks(missing: Missing) -> str:
    """`3 readings of breaking force on 2 packages`."""
    packages = counted(missing.packages, "package")
    if isinstance(missing.characteristic, UnsetType):
        return f"{packages} to inspect for class {missing.class_}"
    name = missing.characteristic.replace("_", " ")
    return f"{counted(missing.readings or 0, 'reading')} of {name} on {packages}"
