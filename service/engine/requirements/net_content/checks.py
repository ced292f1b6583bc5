"""The three checks of a net content: the average, the number of short packages, and the absolute floor of every package."""

from collections.abc import Sequence
from fractions import Fraction
from itertools import count
from math import floor, log10, sqrt
from typing import NamedTuple

from service.engine.characteristics import Pointers
from service.engine.documents import Outcome, Reason, packages_in_words
from service.engine.numbers import (
    Exact,
    Known,
    answered,
    decimals_shown,
    difference,
    figure,
    nearest_double,
    reported,
    root_of,
    side_of,
    with_unit,
)
from service.engine.requirements.net_content.drawn import Packages
from service.engine.requirements.net_content.figures import ContentPlan, MeanCheck
from service.engine.sampling import Stage

FIGURES = 6
"""Significant digits of a figure in a sentence; the reported value beside it has all digits of a double."""
LEAST_FIGURES = 3
"""Significant digits, at least, of how far an average may be under the label."""


class Content(NamedTuple):
    """The nominal content and the tolerable shortage, exactly, in the characteristic's unit."""

    nominal: Fraction
    tolerable: Fraction
    tolerable_factor: Fraction | None
    """No package may be short by more than this many times the tolerable shortage; None for no such limit."""
    unit: str
    measured: str
    """What is measured on every package, in a sentence: `net mass`, or `gross mass and tare mass`."""
    package: str
    """The grade's word for a package."""

    @property
    def floor(self) -> Fraction:
        """The nominal content less the tolerable shortage."""
        return self.nominal - self.tolerable

    @property
    def absolute_floor(self) -> Fraction | None:
        """The least content that any package may have; None where the rule does not limit it."""
        return None if self.tolerable_factor is None else self.nominal - self.tolerable_factor * self.tolerable

    def shown(self, number: float | Fraction) -> str:
        """A content in a sentence, to six significant digits without zeros at the end: `0.137 g`."""
        return with_unit(to_six_digits(float(number)), self.unit)


class Average(NamedTuple):
    """The mean of the packages compared with the nominal content."""

    mean: float
    allowance: float
    """The factor times the spread, which is added to the mean."""
    margin: float
    """The mean plus the allowance less the nominal content; negative below it."""
    figures: "AverageFigures"


class AverageFigures(NamedTuple):
    """The figures of an average in a sentence: each with as many decimals as put it on its true side of the others."""

    mean: str
    nominal: str
    apart: str
    """How far the mean is from the nominal content."""
    side: int
    """-1 where the mean is below the nominal content, 0 on it, 1 above it."""
    allowance: str


class ContentCheck(NamedTuple):
    """The outcome of one of the checks, with its reason."""

    outcome: Outcome
    reason: Reason
    margin: float | None = None
    """In the characteristic's unit; None while it is undecided, or where no content could make it fail."""
    missing: int = 0
    """How many packages are still to be drawn before it is decided."""


class ShortPackages(NamedTuple):
    """The short packages, up to the stage that decides or that is incomplete."""

    places: Sequence[int]
    inspected: Sequence[int]
    stage: Stage
    planned: int
    """How many packages the plan takes up to this stage."""


def to_six_digits(number: float) -> str:
    """The number to six significant digits, without zeros at the end, and without an exponent from 1e-4 upwards."""
    text = f"{number:.{FIGURES}g}"
    # The format `g` writes an exponent from 1e+06 upwards.
    return f"{number:.0f}" if "e+" in text else text


def average_of(mean: Known, spread: Known, check: MeanCheck, nominal: Fraction) -> Average:
    """The mean compared with the nominal content, exactly.

    spread  the variance of the packages, or their range where the check uses the range
    """
    # A standard deviation is a root of a fraction: `difference` compares a root with a fraction by their squares.

    def compare(mean: Fraction, spread: Fraction) -> Average:
        allowance = _allowance(check, spread)
        figures = _figures(mean, nominal, allowance)
        return Average(nearest_double(mean), nearest_double(allowance), difference(allowance, nominal - mean), figures)

    return answered(mean, lambda one: answered(spread, lambda other: compare(one, other)))


def _figures(mean: Fraction, nominal: Fraction, allowance: Exact) -> AverageFigures:
    """The figures of a mean, with the decimals of the nominal content and at least three digits of the allowance."""
    greatest = max(abs(nominal - mean), Fraction(nearest_double(allowance)))
    digits = LEAST_FIGURES - 1 - floor(log10(greatest)) if greatest else 0
    side, allowed_side = side_of(mean, nominal), side_of(allowance, nominal - mean)
    # A figure of another side would contradict the outcome: 0.0324 under where 0.0324 is allowed, and the lot fails.
    for decimals in count(max(0, digits, decimals_shown(nominal))):
        texts = [figure(each, decimals) for each in (mean, nominal, nominal - mean, allowance)]
        mean_shown, nominal_shown, short, allowed = map(Fraction, texts)
        if side_of(mean_shown, nominal_shown) == side and side_of(allowed, short) == allowed_side:
            break
    return AverageFigures(texts[0], texts[1], texts[2].removeprefix("-"), side, texts[3])


def _allowance(check: MeanCheck, spread: Fraction) -> Exact:
    """The factor times the standard deviation, or times the range."""
    return check.factor * spread if check.spread == "range" else root_of(check.factor**2 * spread)


def spread_of(packages: Packages, places: Sequence[int], check: MeanCheck) -> Known:
    """The variance of the packages at these indexes, or their range; 0 for a single package."""
    column = packages.contents.picked(places)
    if check.spread == "range":
        low, high = column.extremes()
        return high - low
    return column.variance() if len(places) > 1 else Fraction(0)


def deviation_of(packages: Packages, places: Sequence[int]) -> float:
    """The standard deviation of the packages at these indexes, for the report; 0 for a single package."""
    if len(places) < 2:  # it takes two to differ
        return 0.0
    return sqrt(answered(packages.contents.picked(places).variance(), nearest_double))


def average_reason(average: Average, content: Content, check: MeanCheck, drawn: int, rule: str, at: Pointers) -> Reason:
    """The reason of the average check: `average-met` or `average-short`.

    drawn  how many packages were drawn, of which the check takes the first ones
    """
    figures, inspected = average.figures, packages_in_words(check.packages, content.package)
    allows_some = average.allowance > 0
    which = "" if allows_some else f" of {inspected}"
    if drawn > check.packages:
        which = f" of the first {check.packages} of {packages_in_words(drawn, content.package)}"
    text = f"The average{which}, {with_unit(figures.mean, content.unit)}, is {_beside_label(figures, content)}"
    if allows_some:
        allowed = with_unit(figures.allowance, content.unit)
        text = f"{text}. Up to {allowed} under is allowed for {inspected} as uneven as these."
    else:
        text = f"{text}; it may not be under."
    parameters: dict[str, object] = {
        "value": average.mean,
        "factor": reported(check.factor),
        "allowance": average.allowance,
        "nominal": reported(content.nominal),
        "unit": content.unit,
        "by": abs(average.margin),
        "packages": check.packages,
    }
    code = "average-met" if average.margin >= 0 else "average-short"
    return Reason(code, text, parameters, rule, at.first, at.total)


def _beside_label(figures: AverageFigures, content: Content) -> str:
    label = f"the label of {with_unit(figures.nominal, content.unit)}"
    if figures.side == 0:
        return f"exactly on {label}"
    return f"{with_unit(figures.apart, content.unit)} {'over' if figures.side > 0 else 'under'} {label}"


def shorts_check(plan: ContentPlan, packages: Packages, content: Content, rule: str) -> ContentCheck:
    """The check of how many packages are short by more than is tolerable, stage by stage."""
    shorts = _short_packages(plan.stages, packages, content.floor)
    found, stage = len(shorts.places), shorts.stage
    lacking = shorts.planned - len(shorts.inspected)
    # Too many short packages fail an incomplete sample, unless a further reading could still raise a content.
    if lacking > 0 and (found < stage.reject or not packages.is_final):
        return ContentCheck(
            Outcome.UNDECIDED, _packages_missing(lacking, content, packages, rule, shorts.planned), missing=lacking
        )
    if stage.reject > found and not _accepts(stage, shorts.places):
        return _undecided_between(plan, packages, shorts, content, rule)
    passes = found < stage.reject
    margin = _margin(packages, shorts, content.floor, (stage.accept or 0) if passes else stage.reject - 1)
    code, outcome = ("shorts-accepted", Outcome.PASS) if passes else ("too-many-short", Outcome.FAIL)
    text = f"{_shorts_text(shorts, content)}; {_accepts_text(stage, found)}."
    parameters = {**_parameters(shorts, content), "reject": stage.reject}
    at = packages.pointers(shorts.places)
    return ContentCheck(outcome, Reason(code, text, parameters, rule, at.first, at.total), margin)


def _short_packages(stages: Sequence[Stage], packages: Packages, floor: Fraction) -> ShortPackages:
    """The short packages of the first stage, or of both where the first does not decide and the second has been drawn."""
    first = stages[0]
    inspected = packages.first[: first.packages]
    shorts = ShortPackages(packages.short_places(floor, inspected), inspected, first, first.packages)
    is_open = len(inspected) == first.packages and not _accepts(first, shorts.places) and len(shorts.places) < first.reject
    if not is_open or len(stages) == 1 or not packages.second:
        return shorts
    second = stages[1]
    more = packages.second[: second.packages]
    both = [*inspected, *more]
    return ShortPackages(packages.short_places(floor, both), both, second, first.packages + second.packages)


def _accepts(stage: Stage, short_places: Sequence[int]) -> bool:
    return stage.accept is not None and len(short_places) <= stage.accept


def is_accepted_by_first(plan: ContentPlan, packages: Packages, floor: Fraction) -> bool:
    """True where the first of two stages accepts, so that no second sample is needed."""
    first = plan.stages[0]
    inspected = packages.first[: first.packages]
    return len(inspected) == first.packages and _accepts(first, packages.short_places(floor, inspected))


def _undecided_between(
    plan: ContentPlan, packages: Packages, shorts: ShortPackages, content: Content, rule: str
) -> ContentCheck:
    """The undecided check where a second sample is needed, or where the rule gives no accept number."""
    at, parameters = packages.pointers(shorts.places), _parameters(shorts, content)
    sentence = _shorts_text(shorts, content)
    if len(plan.stages) == 1:
        text = f"{sentence}, and the rule does not say how many may be in a lot of {shorts.planned}. Judge it by another rule."
        return ContentCheck(Outcome.UNDECIDED, Reason("plan-not-in-table", text, parameters, rule, at.first, at.total))
    second = plan.stages[1].packages
    more = packages_in_words(second, content.package)
    text = f"{sentence}, which neither accepts nor rejects the lot. Draw a second sample of {more} and send it as `stage` 2."
    parameters = {**parameters, "reject": shorts.stage.reject, "second": second}
    reason = Reason("second-sample-needed", text, parameters, rule, at.first, at.total)
    return ContentCheck(Outcome.UNDECIDED, reason, missing=second)


def _packages_missing(lacking: int, content: Content, packages: Packages, rule: str, planned: int) -> Reason:
    at = packages.readings.all_pointers
    text = (
        f"Still to measure: {content.measured} on {packages_in_words(lacking, content.package, more=True)}; "
        f"the rule takes {planned}."
    )
    return Reason("readings-missing", text, {"packages": lacking, "wanted": planned}, rule, at.first, at.total)


def _shorts_text(shorts: ShortPackages, content: Content) -> str:
    """The start of a sentence: `3 of 50 balls are more than 15 g under the label`."""
    return _under_text(len(shorts.places), len(shorts.inspected), content.tolerable, content)


def _under_text(found: int, inspected: int, by: Fraction, content: Content) -> str:
    """The start of a sentence: `None of 50 balls is more than 15 g under the label`."""
    are = "is" if found < 2 else "are"  # one or none
    balls = packages_in_words(inspected, content.package)
    return f"{found or 'None'} of {balls} {are} more than {content.shown(by)} under the label"


def _accepts_text(stage: Stage, found: int) -> str:
    """The accept or the reject number of the stage, in a sentence."""
    if stage.accept is not None and stage.reject == stage.accept + 1:
        return "none may be" if stage.accept == 0 else f"at most {stage.accept} may be"
    # Between the accept and the reject number lies a gap, so the one that was reached decides.
    if found >= stage.reject or stage.accept is None:
        return f"{stage.reject} or more reject the lot"
    return f"{stage.accept} or fewer accept the lot" if stage.accept else "none accepts the lot"


def _parameters(shorts: ShortPackages, content: Content) -> dict[str, object]:
    accept = {} if shorts.stage.accept is None else {"accept": shorts.stage.accept}
    return {
        "value": len(shorts.places),
        "packages": len(shorts.inspected),
        "tolerable": reported(content.tolerable),
        "limit": reported(content.floor),
        "unit": content.unit,
        **accept,
    }


def _margin(packages: Packages, shorts: ShortPackages, floor: Fraction, rank: int) -> float | None:
    """The content of the decisive package less the floor; None where all inspected packages may be short.

    rank  how many packages may be worse than the decisive one
    """
    if rank >= len(shorts.inspected):
        return None
    value = packages.contents.picked(shorts.inspected).worst(floor, None, rank)
    return difference(value, floor)


def absolute_floor_check(packages: Packages, content: Content, rule: str) -> ContentCheck | None:
    """The check that no measured package is below the absolute floor; None where the rule has no such floor."""
    absolute_floor, tolerable_factor = content.absolute_floor, content.tolerable_factor
    if absolute_floor is None or tolerable_factor is None:
        return None
    # Of both stages, and of packages beyond the sample too: no plan allows one that is so short.
    all_places = sorted([*packages.first, *packages.second])
    low = packages.contents.extremes()[0]
    margin = difference(low, absolute_floor)
    too_short = packages.short_places(absolute_floor, all_places)
    at = packages.pointers(too_short)
    found = _under_text(len(too_short), len(all_places), tolerable_factor * content.tolerable, content)
    text = f"{found}, which is {to_six_digits(float(tolerable_factor))} times the usual tolerance; none may be."
    parameters: dict[str, object] = {
        "value": len(too_short),
        "packages": len(all_places),
        "limit": reported(absolute_floor),
        "unit": content.unit,
        "lowest": nearest_double(low),
    }
    outcome = Outcome.FAIL if too_short else Outcome.PASS
    code = "short-by-twice" if too_short else "none-short-by-twice"
    return ContentCheck(outcome, Reason(code, text, parameters, rule, at.first, at.total), margin)
