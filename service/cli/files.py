"""Documents in files, decoded as strictly as requests, and the report of their flaws."""

import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NoReturn, TypeVar

import click
import msgspec

from service.api.strict.grammar import NotJsonError
from service.engine.documents import Flaw, FlawedDocumentError

BAD_INPUT = 65
"""Exit status for a document with flaws: EX_DATAERR of sysexits.h."""
FILE = click.Path(exists=True, dir_okay=False, readable=True, path_type=Path)
T = TypeVar("T")


def document_is_wanted(*, asked: bool) -> bool:
    """True if the JSON document is to be printed: on request, and whenever standard output is no terminal."""
    # A program reads a pipe, and can rely on JSON there without an option.
    return asked or not sys.stdout.isatty()


def convert_file(file: Path, make: Callable[[bytes], T], *, as_json: bool) -> T:
    """Return `make` of the file's bytes; ends the program with status 65 and every flaw if that raises them."""
    try:
        return make(file.read_bytes())
    except (NotJsonError, FlawedDocumentError) as error:
        end_with(file, error.flaws, as_json=as_json)


def end_with(file: Path, flaws: Sequence[Flaw], *, as_json: bool) -> NoReturn:
    """Print every flaw on standard error, one per line, and as a document if that is to be printed; exit with status 65."""
    for flaw in flaws:
        click.echo(f"{file}{'#' if flaw.at else ''}{flaw.at}: {flaw.text}", err=True)
    if document_is_wanted(asked=as_json):
        click.echo(msgspec.json.encode({"flaws": flaws}))
    sys.exit(BAD_INPUT)
