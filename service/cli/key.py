"""`markeryarn key`: issue, list and revoke keys, directly in the database."""

import asyncio
import os
from collections.abc import Awaitable, Callable
from typing import TypeVar

import click
import msgspec

from service.api.keys.controller import key_shown
from service.cli.failing import ended_by
from service.engine.documents import FlawedDocumentError
from service.ports.catalogue import CatalogueAwayError, Key, KeyUnknownError, Scope, TooManyKeysError, written
from service.settings import SettingsError, settings_from
from service.storage.catalogue import DatabaseCatalogue
from service.storage.database import migrate_database, need_migration, open_database
from service.storage.keys import DatabaseKeys
from service.usecases.keys import LOCAL
from service.usecases.keys import issuing as use

T = TypeVar("T")
AS_JSON = click.option("--json", "is_json", is_flag=True, help="Print JSON, for a program.")


@click.group(
    "key",
    short_help="Add, list and revoke keys.",
    epilog="Example: markeryarn key add station-7 --scope check --scope read",
)
def command() -> None:
    """Add, list and revoke keys in the database that MARKERYARN_DATABASE_URL names.

    As soon as the database has a key, every caller needs one.
    """


@command.command("add", epilog="Example: markeryarn key add station-7 --scope check --scope read --expires 365d")
@click.argument("name")
@click.option(
    "--scope",
    "scopes",
    multiple=True,
    type=click.Choice([scope.value for scope in Scope]),
    help="What the key allows; may be repeated.",
)
@click.option("--expires", help="Days, as in 90d, or a date or a time, in UTC if it has no time zone.")
@AS_JSON
def add(name: str, scopes: tuple[str, ...], expires: str | None, *, is_json: bool) -> None:
    """Make a key for NAME and print it, once: nobody can show it again."""

    async def make(keys: DatabaseKeys) -> use.NewKey:
        until = use.expiry_of(expires, (await keys.current_state()).now) if expires else None
        return await use.add_key(keys, name, frozenset(map(Scope, scopes)), until)

    issued = _with_keys(make)
    if is_json:
        click.echo(msgspec.json.encode({"token": issued.token, **msgspec.to_builtins(key_shown(issued.kept))}))
        return
    click.echo(issued.token)
    # On standard error, so that standard output has the token alone and can be piped into a secret store.
    click.echo(f"{_sentence(issued.kept)} Store it now: it is not shown again.", err=True)


@command.command("list")
@AS_JSON
def list_all(*, is_json: bool) -> None:
    """List all keys, revoked and expired ones too, without their secrets."""

    async def read(keys: DatabaseKeys) -> list[Key]:
        page = await use.list_keys(keys)
        found = page.keys
        while page.after:
            page = await use.list_keys(keys, page.after)
            found += page.keys
        return found

    found = _with_keys(read)
    if is_json:
        click.echo(msgspec.json.encode([key_shown(key) for key in found]))
        return
    for key in found:
        click.echo(_sentence(key))
    if not found:
        click.echo("There are no keys, so callers need none. `markeryarn key add` makes the first one.")


@command.command("revoke", epilog="Example: markeryarn key revoke mky_1a2b3c4d --reason 'The station was sold.'")
@click.argument("key")
@click.option("--reason", required=True, help="Why, as the list shows it.")
@AS_JSON
def revoke(key: str, reason: str, *, is_json: bool) -> None:
    """Revoke the key that begins with KEY; running services obey within a second."""
    revoked = _with_keys(lambda keys: keys.revoke(key, LOCAL.name, reason))
    click.echo(msgspec.json.encode(key_shown(revoked)) if is_json else _sentence(revoked))


def _with_keys(act: Callable[[DatabaseKeys], Awaitable[T]]) -> T:
    """Run an action on the keys of the configured database and return its result."""

    async def run() -> T:
        settings = settings_from(os.environ)
        async with open_database(settings.database_url, timeout_s=settings.statement_timeout) as database:
            # The first key is often issued before the service has ever started and made the tables.
            if settings.migrates and need_migration(await DatabaseCatalogue(database).tables_version()):
                await migrate_database(settings.database_url)
            return await act(DatabaseKeys(database))

    with ended_by(SettingsError, CatalogueAwayError, KeyUnknownError, TooManyKeysError, FlawedDocumentError, ValueError):
        return asyncio.run(run())


def _sentence(key: Key) -> str:
    """A key as one line."""
    scopes = ", ".join(scope for scope in Scope if scope in key.scopes)
    text = f"{key.key} of {key.name} allows {scopes}"
    text += f" until {written(key.expires_at)}" if key.expires_at else ""
    text += f"; last used {written(key.used_at)}" if key.used_at else ""
    return text + (f"; revoked {written(key.revoked_at)}: {key.reason}" if key.revoked_at else ".")
