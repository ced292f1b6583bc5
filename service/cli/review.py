"""`markeryarn review`: print every flaw of a specification file, or advice."""

from pathlib import Path

import click
import msgspec

from service.api.strict.decoding import Shape, decode
from service.cli.files import FILE, convert_file, document_is_wanted
from service.engine.grade import Specification, compile_specification
from service.engine.reviewing import advice_on


@click.command("review", short_help="List the flaws of a specification file.", epilog="Example: markeryarn review twine.json")
@click.argument("specification", type=FILE)
@click.option("--json", "as_json", is_flag=True, help="Print the review as JSON, as is always done into a pipe.")
def command(specification: Path, *, as_json: bool) -> None:
    """List every flaw of the file SPECIFICATION, or advice where it has none.

    Exit status: 0 without flaws, with advice or not; 65 with flaws, which are printed on standard error.
    """
    grade = convert_file(specification, lambda body: compile_specification(decode(body, Shape(Specification))), as_json=as_json)
    advice = advice_on(grade)
    if document_is_wanted(asked=as_json):
        click.echo(msgspec.json.encode({"flaws": [], "advice": advice}))
        return
    for each in advice:
        click.echo(f"{specification}#{each.at}: {each.text}")
    click.echo(f"No flaws. {grade.digest}")
