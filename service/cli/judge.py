"""`markeryarn judge`: judge a lot from two files, without a server."""

import sys
from pathlib import Path

import click
import msgspec

from service.api.strict.decoding import Shape, decode
from service.cli.files import FILE, convert_file, document_is_wanted
from service.cli.printing import print_verdict
from service.engine.documents import Evidence, Outcome
from service.engine.grade import Specification, compile_specification
from service.engine.judging import judge

# Not 1 and 2, by which click reports errors and wrong usage.
STATUS = {Outcome.PASS: 0, Outcome.FAIL: 3, Outcome.UNDECIDED: 4}


@click.command(
    "judge",
    short_help="Judge a lot from two files, without a server.",
    epilog="Example: markeryarn judge twine.json lot-0412-07.json",
)
@click.argument("specification", type=FILE)
@click.argument("evidence", type=FILE)
@click.option("--json", "as_json", is_flag=True, help="Print the verdict as JSON, as is always done into a pipe.")
def command(specification: Path, evidence: Path, *, as_json: bool) -> None:
    """Judge the lot of the file EVIDENCE by the file SPECIFICATION, without a server.

    Exit status: 0 pass, 3 fail, 4 undecided, 65 where a file has flaws, which are printed on standard error.
    """
    grade = convert_file(specification, lambda body: compile_specification(decode(body, Shape(Specification))), as_json=as_json)
    verdict = convert_file(evidence, lambda body: judge(grade, decode(body, Shape(Evidence))), as_json=as_json)
    if document_is_wanted(asked=as_json):
        click.echo(msgspec.json.encode(verdict))
    else:
        print_verdict(verdict)
    sys.exit(STATUS[verdict.outcome])
