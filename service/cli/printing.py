"""Verdicts and checks as coloured text: failures first, then undecided findings, then passes."""

from collections.abc import Iterator, Mapping
from textwrap import wrap

import click

from service.engine.documents import CheckAnswer, Finding, Outcome, Verdict

COLOURS = {Outcome.PASS: "green", Outcome.FAIL: "red", Outcome.UNDECIDED: "yellow"}
ORDER = (Outcome.FAIL, Outcome.UNDECIDED, Outcome.PASS)
WIDTH, INDENT = 100, 6
OUTCOME_WIDTH = len(Outcome.UNDECIDED)
CAUTION = (
    "A breaking force is not a working load: that is the user's to set, with the design factor that the local code and a "
    "competent person require."
)


def print_verdict(verdict: Verdict) -> None:
    """Print a verdict, failing findings first."""
    against = f" against {verdict.grade}, revision {verdict.revision}" if verdict.grade else ""
    click.echo(f"{_marked(verdict.outcome)}  lot {verdict.lot}{against}")
    longest = max(len(finding.requirement) for finding in verdict.findings)
    ordered = sorted(verdict.findings, key=lambda finding: ORDER.index(finding.outcome))
    for finding in ordered:
        for line in _lines(finding, longest):
            click.echo(line)


def print_check(asked: Mapping[str, object], answer: CheckAnswer) -> None:
    """Print the reading of a check, its outcome and reasons."""
    read = f"{asked['value']} {asked['unit']}"
    reasons = [reason for finding in answer.findings for reason in finding.reasons] + list(answer.reasons or ())
    click.echo(f"  {_marked(answer.outcome)} {read:<12} {' '.join(reason.text for reason in reasons)}")


def print_step(number: int, says: str, request: str, status: int, shown: str) -> None:
    """Print one step of the demo: what happens, the request, and the answer."""
    click.echo(f"{number:>4}. {says}")
    for line in wrap(f"{request} → {status}. {shown}", WIDTH - INDENT):
        click.echo(" " * INDENT + line)


def _lines(finding: Finding, longest: int) -> Iterator[str]:
    """Lines of a finding: outcome, requirement, and its wrapped reasons beside them."""
    text = " ".join(reason.text for reason in finding.reasons)
    text += f" Clause {finding.clause}." if finding.clause else ""
    text += "" if finding.binding else " Not binding: it does not count for the verdict."
    indent = 2 + OUTCOME_WIDTH + 1 + longest + 2
    first, *others = wrap(text, WIDTH - indent)
    yield f"  {_marked(finding.outcome)} {finding.requirement:<{longest}}  {first}"
    yield from (" " * indent + line for line in others)


def _marked(outcome: Outcome) -> str:
    """An outcome in capitals and its colour, padded to a fixed width."""
    # click.echo removes the colours where the output is no terminal.
    return click.style(f"{outcome.upper():<{OUTCOME_WIDTH}}", fg=COLOURS[outcome], bold=True)
