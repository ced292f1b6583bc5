"""`markeryarn serve`: serve by one worker until a signal stops it."""

import os

import click

from service.api.serving.listening import CannotServeError, Listening
from service.api.serving.server import serve
from service.app import create_app
from service.cli.failing import ended_by
from service.ports.catalogue import CatalogueAwayError
from service.settings import SettingsError, settings_from


@click.command("serve", short_help="Run the service until it is stopped.", epilog="Example: markeryarn serve --port 8000")
@click.option("--host", default="127.0.0.1", show_default=True, help="An address of this machine; all but loopback need keys.")
@click.option("--port", default=8000, show_default=True, type=click.IntRange(1, 65535))
def command(host: str, port: int) -> None:
    """Run the service until SIGTERM or Ctrl+C, then answer the requests that have arrived.

    Settings come from the environment, MARKERYARN_DATABASE_URL first. An SQLite file is migrated at start; for
    PostgreSQL, run `markeryarn migrate` first.
    """
    with ended_by(SettingsError, CannotServeError, CatalogueAwayError):
        settings = settings_from(os.environ)
        certificate, key = settings.tls_certificate, settings.tls_key
        listening = Listening(host, port, certificate, key, settings.open_without_keys, settings.host_names)
        serve(create_app(settings), listening)
