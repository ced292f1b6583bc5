"""Gradings: verdicts on one lot by several grades, the best first, so that a failed lot can be sold under another grade."""

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction

from msgspec import UNSET, Struct, UnsetType

from service.engine import ENGINE
from service.engine.documents import FORMAT, Finding, Flaw, Outcome, ResolvedLimits, Verdict
from service.engine.numbers import exact

BEST_FIRST = (Outcome.PASS, Outcome.UNDECIDED, Outcome.FAIL)
SIDES = {"lower": 1, "above": 1, "upper": -1, "below": -1, "at_most": -1, "k": 1, "accept": -1, "nominal": 1}
"""The members of limits that a margin can be from: 1 where a value has to be above the member, -1 where below.

An average content is compared with the nominal content itself, which is last, so that of equal distances a limit's counts.
"""


class LeastMargin(Struct, frozen=True):
    """The binding requirement that a lot meets with the least margin, or fails by the most."""

    requirement: str
    relative: float
    """The margin divided by the magnitude of the limit, by 1 where that is 0; negative where the requirement fails."""


class Grading(Struct, frozen=True, kw_only=True):
    """The verdict on the lot by one grade."""

    grade: str | UnsetType
    revision: int | UnsetType
    outcome: Outcome
    least_margin: LeastMargin | UnsetType = UNSET
    """Left out where no binding finding has a margin."""
    verdict: Verdict


class NotJudged(Struct, frozen=True):
    """A grade by which the evidence cannot be judged, and why."""

    grade: str
    revision: int
    flaws: Sequence[Flaw]
    """The first flaws, with pointers into the request."""
    more_flaws: int | UnsetType = UNSET


class Gradings(Struct, frozen=True, kw_only=True):
    """The verdicts on one lot by several grades, the best one first."""

    format: int = FORMAT
    engine: str = ENGINE
    lot: str
    evidence: str
    gradings: Sequence[Grading]
    not_judged: Sequence[NotJudged] | UnsetType = UNSET


def in_order(verdicts: Iterable[Verdict]) -> list[Grading]:
    """The verdicts with their least relative margins, the best one first.

    Passes are before undecided verdicts, and these before failures. Within passes and failures the greater least margin is
    first; within undecided verdicts the one that lacks fewer readings, then the greater margin. Verdicts without a margin are
    last, and of equal ones the smaller grade code is first.
    """
    return [_grading(verdict, least) for least, verdict in sorted(map(_with_least, verdicts), key=_sort_key)]


RelativeMargin = tuple[Fraction, str] | None
"""(relative margin, id of the requirement); None where no binding finding has a margin."""


def _with_least(verdict: Verdict) -> tuple[RelativeMargin, Verdict]:
    """The verdict with its least relative margin; of equal margins, that of the first requirement."""
    margins = (
        (margin, finding.requirement)
        for finding in verdict.findings
        if finding.binding and (margin := relative_margin(finding)) is not None
    )
    return min(margins, key=lambda each: each[0], default=None), verdict


def _sort_key(item: tuple[RelativeMargin, Verdict]) -> tuple[int, int, bool, Fraction, str]:
    """The sort key of a verdict, see `in_order`."""
    least, verdict = item
    margin = -least[0] if least else Fraction(0)
    missing = _missing_count(verdict) if verdict.outcome is Outcome.UNDECIDED else 0
    return BEST_FIRST.index(verdict.outcome), missing, least is None, margin, verdict.grade or ""


def _grading(verdict: Verdict, least: RelativeMargin) -> Grading:
    return Grading(
        grade=verdict.grade,
        revision=verdict.revision,
        outcome=verdict.outcome,
        least_margin=LeastMargin(least[1], float(least[0])) if least else UNSET,
        verdict=verdict,
    )


def relative_margin(finding: Finding) -> Fraction | None:
    """The margin divided by the magnitude of the limit that it is from, by 1 where that is 0; None where a finding has none."""
    # Exactly, from the figures that the finding reports, so that a reader of the document gets the same order.
    if isinstance(finding.margin, UnsetType) or isinstance(finding.limits, UnsetType):
        return None
    margin, value = exact(finding.margin), finding.measured.value if finding.measured else UNSET
    measured = None if isinstance(value, UnsetType) else exact(value)
    # A margin is from the limit whose distance it is; both are rounded for the report, so the nearest distance tells.
    distances = [
        (abs(sign * (measured - limit) - margin) if measured is not None else Fraction(0), abs(limit))
        for sign, limit in _limits_in(finding.limits)
    ]
    return margin / (min(distances, key=lambda each: each[0])[1] or 1) if distances else None


def _limits_in(limits: ResolvedLimits) -> Iterator[tuple[int, Fraction]]:
    """(1 for a lower or -1 for an upper limit, the limit) of every side, then of outer limits and of those of a guard band."""
    for side, sign in SIDES.items():
        if not isinstance(limit := getattr(limits, side, UNSET), UnsetType):
            yield sign, exact(limit)
    for further in (limits.outer, limits.acceptance, limits.rejection):
        if further:
            yield from _limits_in(further)


def _missing_count(verdict: Verdict) -> int:
    """How many readings and packages to inspect the binding requirements lack in total."""
    # The most of each characteristic or class, not the sum: the same readings complete the samples of several requirements.
    needed: dict[tuple[object, object], int] = {}
    for finding in verdict.findings:
        for each in (finding.missing or ()) if finding.binding else ():
            key = (each.characteristic, each.class_)
            needed[key] = max(each.readings or each.packages, needed.get(key, 0))
    return sum(needed.values())
