"""How a command ends that cannot do what it is asked: with its sentences on standard error and exit status 1."""

import contextlib
from collections.abc import Iterator

import click

from service.ports.catalogue import CatalogueAwayError


@contextlib.contextmanager
def ended_by(*errors: type[Exception]) -> Iterator[None]:
    """End the program by the text of these errors, which is written for a person."""
    try:
        yield
    except errors as error:
        text = error.why if isinstance(error, CatalogueAwayError) else str(error)
        raise click.ClickException(text) from error
