"""Failure of a command: its sentences on standard error, and exit status 1."""

import contextlib
from collections.abc import Iterator

import click

from service.ports.catalogue import CatalogueAwayError


@contextlib.contextmanager
def ended_by(*errors: type[Exception]) -> Iterator[None]:
    """Convert these errors, whose texts are written for a person, to ClickException."""
    try:
        yield
    except errors as error:
        # Callers over HTTP get the sentence without the cause; whoever runs a command is the operator.
        text = error.why if isinstance(error, CatalogueAwayError) else str(error)
        raise click.ClickException(text) from error
