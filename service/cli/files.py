"""Documents in files: read strictly, as the service reads a request, and what is said where they don't fit."""

import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NoReturn, TypeVar

import click
import msgspec

from service.api.strict.grammar import NotJsonError
from service.engine.documents import Flaw, FlawedDocumentError

BAD_INPUT = 65
"""Exit status where a document doesn't fit; what sysexits calls EX_DATAERR."""
FILE = click.Path(exists=True, dir_okay=False, readable=True, path_type=Path)
Made = TypeVar("Made")


def document_is_wanted(*, asked: bool) -> bool:
    """Print the JSON document where it is asked for, and wherever no person is looking: into a pipe or a file."""
    return asked or not sys.stdout.isatty()


def made_of(file: Path, make: Callable[[bytes], Made], *, as_json: bool) -> Made:
    """What is made of the file's bytes; ends the program with 65 and every flaw where they don't fit."""
    try:
        return make(file.read_bytes())
    except (NotJsonError, FlawedDocumentError) as error:
        end_with(file, error.flaws, as_json=as_json)


def end_with(file: Path, flaws: Sequence[Flaw], *, as_json: bool) -> NoReturn:
    """Every flaw on standard error, one a line, and as a document on standard output where one is wanted; exit status 65."""
    for flaw in flaws:
        click.echo(f"{file}{'#' if flaw.at else ''}{flaw.at}: {flaw.text}", err=True)
    if document_is_wanted(asked=as_json):
        click.echo(msgspec.json.encode({"flaws": flaws}))
    sys.exit(BAD_INPUT)
