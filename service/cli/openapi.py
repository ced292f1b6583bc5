"""`markeryarn openapi`: the contract as a document."""

import click

from service.api.openapi import written
from service.api.routes import routes


@click.command("openapi", short_help="Print the OpenAPI document.", epilog="Example: markeryarn openapi > openapi.json")
def command() -> None:
    """Print the OpenAPI 3.1 document that this release serves at /openapi.json."""
    click.echo(written(routes()), nl=False)
