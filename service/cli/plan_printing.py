"""A sampling plan as text of at most 80 columns: what to draw, a table of risks, and a curve of acceptance."""

from collections.abc import Iterator, Sequence

import click
from msgspec import UnsetType
from msgspec.structs import replace

from service.usecases.sampling_plans import PlanRequest, SamplingPlan, plan

HEIGHT, WIDTH = 8, 64
EIGHTHS = " ▁▂▃▄▅▆▇█"
AXIS = 8
"""Width of the labels left of the curve."""
LAWS = {
    "binomial": "a process, by the binomial distribution",
    "hypergeometric": "this lot, by the hypergeometric distribution",
    "poisson": "occurrences, by the Poisson distribution",
    "normal": "normal readings, sigma known",
    "noncentral_t": "normal readings, sigma unknown, by the noncentral t distribution",
}


def print_plan(request: PlanRequest, answer: SamplingPlan) -> None:
    """Print a plan, its table of risks and its curve."""
    for line in (*_heading(answer), "", *_stages(answer), "", *_risks(request, answer), "", *_curve(request, answer)):
        click.echo(line)


def _heading(answer: SamplingPlan) -> Iterator[str]:
    """Lines about the origin of the plan."""
    parts = [f"Plan by {answer.by}"]
    if answer.table:
        parts += [f"{answer.table}", f"code letter {answer.letter}", f"{answer.inspection} inspection"]
    yield ", ".join(parts)
    if answer.takes_all:
        yield "The sample is the whole lot."


def _stages(answer: SamplingPlan) -> Iterator[str]:
    """Lines of the stages: packages, and Ac and Re or k."""
    if answer.by == "variables":
        yield f"{'packages':>10}{'k':>10}"
        yield from (f"{stage.packages:>10}{_number(stage.k):>10}" for stage in answer.stages)
        return
    yield f"{'sample':>10}{'packages':>10}{'Ac':>8}{'Re':>8}"
    for number, stage in enumerate(answer.stages, 1):
        yield f"{number:>10}{stage.packages:>10}{_number(stage.accept):>8}{_number(stage.reject):>8}"


def _number(number: float | UnsetType) -> str:
    """A number as text, a dash for none."""
    return "-" if isinstance(number, UnsetType) else f"{number}"


def _risks(request: PlanRequest, answer: SamplingPlan) -> Iterator[str]:
    """Lines of the risks: acceptance, average outgoing quality and average sample number by quality."""
    yield f"Risks for {LAWS[answer.law]}"
    for words, accepted in (("is accepted with 95 %", answer.producer), ("is accepted with 10 %", answer.consumer)):
        if accepted:
            yield f"{accepted.quality:>10.4g} {_unit(request)} {words}" + _exact_note(accepted.acceptance)
    yield ""
    yield f"{'quality':>10}{'accepted %':>14}{'outgoing':>14}{'packages':>14}"
    for point in answer.curve:
        figures = f"{100 * point.acceptance:>14.4f}{point.average_outgoing_quality:>14.4f}{point.average_sample_number:>14.2f}"
        yield f"{point.quality:>10.6g}{figures}"


def _exact_note(acceptance: float) -> str:
    """The exact probability, where it differs from the nominal 95 or 10 %."""
    # A finite lot has whole packages only, so that none of its qualities may be accepted with exactly 95 or 10 %.
    return "" if acceptance in {0.95, 0.1} else f" (exactly {100 * acceptance:.2f} %)"


def _unit(request: PlanRequest) -> str:
    return "per hundred packages" if request.counting == "occurrences" else "% nonconforming"


def _curve(request: PlanRequest, answer: SamplingPlan) -> Iterator[str]:
    """Lines of a bar chart of acceptance, for qualities from 0 to the worst in the table."""
    worst = max(point.quality for point in answer.curve) or 1
    qualities = [worst * (column + 0.5) / WIDTH for column in range(WIDTH)]
    drawn = plan(replace(request, qualities=[max(quality, 1e-9) for quality in qualities])).curve
    heights = [round(HEIGHT * 8 * point.acceptance) for point in drawn]
    for row in range(HEIGHT - 1, -1, -1):
        label = {HEIGHT - 1: "100 %", HEIGHT // 2 - 1: "50 %"}.get(row, "")
        yield f"{label:>{AXIS - 1}} |{_row(heights, row)}".rstrip()
    yield f"{'0 %':>{AXIS - 1}} +{'-' * WIDTH}"
    yield f"{'':{AXIS}} 0{f'{worst:.6g} {_unit(request)}':>{WIDTH - 1}}"


def _row(heights: Sequence[int], row: int) -> str:
    """One line of the chart; a character shows eighths of its height."""
    return "".join(EIGHTHS[max(0, min(8, height - 8 * row))] for height in heights)
