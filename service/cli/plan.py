"""`markeryarn plan`: print a sampling plan and its risks, without a server."""

import sys
from pathlib import Path
from typing import Any, NoReturn

import click
import msgspec

from service.api.strict.decoding import Shape, decode
from service.api.strict.grammar import NotJsonError, parse
from service.cli.files import BAD_INPUT, FILE, convert_file
from service.cli.plan_printing import print_plan
from service.engine.documents import Flaw, FlawedDocumentError, quoted
from service.usecases.sampling_plans import PlanRequest, plan

REQUEST = Shape(PlanRequest)
OPTIONS_OF_SAMPLE = ("table", "level", "letter", "aql", "scheme")
BY_VARIABLES = "MIL-STD-414"


def _point(words: str) -> dict[str, float]:
    """Parse `6.5:10`, percent nonconforming and risk in percent, into the members of a document."""
    try:
        percent, risk = map(float, words.split(":"))
    except ValueError:
        text = f"{quoted(words)} is not a quality and a risk in percent. Write them as 6.5:10."
        raise click.BadParameter(text) from None
    return {"percent": percent, "risk": risk}


@click.command(
    "plan",
    short_help="Show a sampling plan and how often it accepts.",
    epilog="Example: markeryarn plan --table MIL-STD-105E --level II --aql 2.5 --lot 1200",
)
@click.argument("sample", type=FILE, required=False)
@click.option("--table", help="MIL-STD-105E, by attributes, or MIL-STD-414, by variables.")
@click.option("--level", help="Inspection level of the table, with --lot.")
@click.option("--letter", help="Code letter of the table, in place of a level.")
@click.option("--aql", type=float, help="AQL of the table.")
@click.option("--scheme", help="single or double.")
@click.option(
    "--two-point",
    "points",
    type=_point,
    nargs=2,
    metavar="PERCENT:RISK PERCENT:RISK",
    help="Producer's and consumer's point, as 1:5 6.5:10.",
)
@click.option("--packages", type=int, help="Packages drawn, with --at-most or --k.")
@click.option("--at-most", type=int, help="Accept number, for a sample without one.")
@click.option("--k", type=float, help="Acceptability constant k, for a sample without one.")
@click.option("--lot", "size", type=int, help="Packages in the lot.")
@click.option("--inspection", help="normal, tightened or reduced.")
@click.option("--variables", is_flag=True, help="By variables; MIL-STD-414 and --k imply it.")
@click.option("--sigma-known", is_flag=True, help="By variables, where the standard deviation is known.")
@click.option("--occurrences", is_flag=True, help="Count occurrences, not packages; qualities are per hundred packages.")
@click.option("--law", help="binomial, hypergeometric or poisson.")
@click.option("--quality", "qualities", type=float, multiple=True, help="A quality in percent to show; may be repeated.")
@click.option("--json", "as_json", is_flag=True, help="Print the JSON document that the service answers.")
def command(sample: Path | None, *, as_json: bool, **options: Any) -> None:  # click hands over what each option is
    """Show a sampling plan and its risks: a plan of a table, one for two points, a size, or the one in the file SAMPLE.

    SAMPLE has the `sample` of a grade. Exit status: 0, or 65 where there is no such plan; the reason is printed then.
    """
    document = convert_file(sample, parse, as_json=as_json) if sample else _sample_of(options)
    try:
        # By way of JSON, so that options are checked by the same decoder, with the same texts, as a request.
        request = decode(msgspec.json.encode(_request(document, options)), REQUEST)
        answer = plan(request)
    except (NotJsonError, FlawedDocumentError) as error:
        _end_with(error.flaws, as_json=as_json)
    # Unlike other commands it prints text into a pipe too: the table is what it is for.
    if as_json:
        click.echo(msgspec.json.encode(answer))
    else:
        print_plan(request, answer)


def _sample_of(options: dict[str, Any]) -> dict[str, Any]:
    """Return the sample document of the options, which have to name exactly one plan."""
    of_table = {name: options[name] for name in OPTIONS_OF_SAMPLE if options[name] is not None}
    named = [bool(of_table), bool(options["points"]), options["packages"] is not None]
    if sum(named) != 1:
        raise click.UsageError("Give one plan: a file, --table with its options, --two-point, or --packages.")
    if options["points"]:
        producer, consumer = options["points"]
        law = {"law": options["law"]} if options["law"] == "hypergeometric" else {}
        return {"plan": "two_point", "producer": producer, "consumer": consumer, **law}
    if options["packages"] is not None:
        return {"plan": "fixed", "packages": options["packages"]}
    return {"plan": "code_letter", **of_table}


def _request(sample: Any, options: dict[str, Any]) -> dict[str, Any]:  # whatever the file holds; decoding tells
    """Return the request document, as for the service."""
    is_table_of_variables = isinstance(sample, dict) and sample.get("table") == BY_VARIABLES
    by_variables = options["variables"] or options["k"] is not None or is_table_of_variables
    lot = {"size": options["size"], "inspection": options["inspection"]}
    members = {
        "sample": sample,
        "by": "variables" if by_variables else None,
        "counting": "occurrences" if options["occurrences"] else None,
        "at_most": options["at_most"],
        "k": options["k"],
        "lot": {name: value for name, value in lot.items() if value is not None} or None,
        "qualities": list(options["qualities"]) or None,
        "sigma": "known" if options["sigma_known"] else None,
        "law": options["law"],
    }
    return {name: value for name, value in members.items() if value is not None}


def _end_with(flaws: tuple[Flaw, ...], *, as_json: bool) -> NoReturn:
    """Print every flaw on standard error, one per line, and as a document with --json; exit with status 65."""
    for flaw in flaws:
        click.echo(f"{flaw.at}: {flaw.text}", err=True)
    if as_json:
        click.echo(msgspec.json.encode({"flaws": flaws}))
    sys.exit(BAD_INPUT)
