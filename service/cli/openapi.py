"""`markeryarn openapi`: print the OpenAPI document."""

import click

from service.api.document.document import written
from service.app import create_app
from service.settings import Settings


@click.command("openapi", short_help="Print the OpenAPI document.", epilog="Example: markeryarn openapi > openapi.json")
def command() -> None:
    """Print the OpenAPI 3.1 document that this release serves at /openapi.json."""
    # An application is created but not started, so this needs no database.
    click.echo(written(create_app(Settings())), nl=False)
