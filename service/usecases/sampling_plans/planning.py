"""Calculation of a sampling plan for a lot: stages, operating characteristic, and average quality and sample number."""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import TYPE_CHECKING, Literal

from msgspec import UNSET, Struct, UnsetType

from service.engine import ENGINE
from service.engine.documents import FORMAT, Flaw, FlawedDocumentError, Inspection, Numeral
from service.engine.lot import lot_size_of
from service.engine.numbers import exact, reported
from service.engine.sampling import AttributesPlan, Basis, CodeLetter, LotSize, NoPlan, VariablesPlan
from service.usecases.sampling_plans.requests import Law, PlanRequest, no_plan_flaw, request_flaws, sample_too_small

if TYPE_CHECKING:
    from service.engine.sampling.curves import Curve

LawOfVariables = Literal["normal", "noncentral_t"]
MOST_PACKAGES = 100_000
OFTEN, SELDOM = 0.95, 0.1
"""Probabilities of acceptance at which a producer's and a consumer's quality are usually stated."""
DIGITS, NOTHING = 12, 1e-14
"""Digits of a reported figure, fewer than are exact; and the bound below which it is reported as 0."""


class PlanStage(Struct, frozen=True, kw_only=True):
    """One stage of a plan: a sample, and when it accepts or rejects."""

    packages: int
    """Number of packages to draw in this stage."""
    accept: int | UnsetType = UNSET
    """Acceptance number Ac: the largest count, over all stages so far, that accepts; left out where this stage can't accept."""
    reject: int | UnsetType = UNSET
    """Rejection number Re: the smallest count, over all stages so far, that rejects."""
    k: Numeral | UnsetType = UNSET
    """The smallest quality statistic that accepts."""


class CurvePoint(Struct, frozen=True):
    """Point of the curves of a plan: what happens to lots of one quality."""

    quality: Numeral
    """In percent nonconforming, or in occurrences per hundred packages."""
    acceptance: float
    """Probability that the plan accepts."""
    average_outgoing_quality: float
    """In the unit of the quality, if rejected lots are inspected completely and everything found is replaced."""
    average_sample_number: float
    """Expected number of packages drawn."""


class QualityAccepted(Struct, frozen=True):
    """A quality and the probability that a lot of it is accepted."""

    quality: float
    acceptance: float


class SamplingPlan(Struct, frozen=True, kw_only=True):
    """A plan for a lot, and its risks."""

    format: int = FORMAT
    engine: str = ENGINE
    by: Basis
    table: str | UnsetType = UNSET
    letter: str | UnsetType = UNSET
    """Code letter of the table, after its arrows were followed."""
    inspection: Inspection
    stages: list[PlanStage]
    takes_all: bool | UnsetType = UNSET
    """True if the sample is the whole lot; else left out."""
    law: Law | LawOfVariables
    """Distribution of the counts; by variables that of the quality statistic, `normal` if sigma is known."""
    curve: list[CurvePoint]
    producer: QualityAccepted | UnsetType = UNSET
    """The worst quality accepted with a probability of 95 %; left out if none is."""
    consumer: QualityAccepted | UnsetType = UNSET
    """The best quality accepted with a probability of 10 % or less; left out if none is."""


def plan(request: PlanRequest) -> SamplingPlan:
    """Calculate a plan and its risks; equal requests give equal answers. Raises FlawedDocumentError."""
    if flaws := list(request_flaws(request)):
        raise FlawedDocumentError(flaws)
    lot = lot_size_of(request.lot) if request.lot else LotSize(None)
    found = _plan_of(request, lot)
    if isinstance(found, NoPlan):
        raise FlawedDocumentError([no_plan_flaw(request, found)])
    if flaws := list(_size_flaws(request, found)):
        raise FlawedDocumentError(flaws)
    return _shown(request, found, lot)


def _plan_of(request: PlanRequest, lot: LotSize) -> AttributesPlan | VariablesPlan | NoPlan:
    """Return the plan of the sample, or one of its size with the Ac or k of the request."""
    if request.basis == "attributes":
        return request.sample.attributes_plan(lot, None if isinstance(request.at_most, UnsetType) else request.at_most)
    if isinstance(request.k, UnsetType):
        return request.sample.variables_plan(lot)
    # The size of a sample, and whether the lot has as many, is the same by attributes; its Ac of 0 is not used.
    sized = request.sample.attributes_plan(lot, 0)
    return sized if isinstance(sized, NoPlan) else VariablesPlan(sized.stages[0].packages, exact(request.k))


def _size_flaws(request: PlanRequest, found: AttributesPlan | VariablesPlan) -> Iterator[Flaw]:
    """Flaws of a sample that is too large for calculating risks, or too small to have a spread."""
    packages = found.packages if isinstance(found, VariablesPlan) else sum(stage.packages for stage in found.stages)
    if packages > MOST_PACKAGES:
        text = f"The plan draws {packages} packages, and risks are calculated up to 100,000. Give a smaller sample."
        yield Flaw("plan-too-large", text, "/sample")
    if packages == 1 and isinstance(found, VariablesPlan) and request.sigma != "known":
        yield sample_too_small()


def _shown(request: PlanRequest, found: AttributesPlan | VariablesPlan, lot: LotSize) -> SamplingPlan:
    curve = _curve_of(request, found, lot)
    of_variables: Law | LawOfVariables = "normal" if request.sigma == "known" else "noncentral_t"
    return SamplingPlan(
        by=request.basis,
        table=request.sample.table if isinstance(request.sample, CodeLetter) else UNSET,
        letter=found.letter or UNSET,
        inspection=lot.inspection,
        stages=_stages(found),
        takes_all=(isinstance(found, AttributesPlan) and found.takes_all) or UNSET,
        law=request.effective_law if isinstance(found, AttributesPlan) else of_variables,
        curve=[_point(curve, quality) for quality in _qualities(request, curve)],
        producer=_accepted(curve, curve.accepted_with_at_least(OFTEN)),
        consumer=_accepted(curve, curve.accepted_with_at_most(SELDOM)),
    )


def _curve_of(request: PlanRequest, found: AttributesPlan | VariablesPlan, lot: LotSize) -> "Curve":
    """Return the calculator of the plan's risks."""
    from service.engine.sampling.curves import AttributesCurve, VariablesCurve  # imported at first use: few callers plan

    if isinstance(found, AttributesPlan):
        return AttributesCurve(found, request.effective_law, lot.packages)
    return VariablesCurve(found, request.sigma == "known", lot.packages)


def _qualities(request: PlanRequest, curve: "Curve") -> Sequence[Fraction]:
    """Return the requested qualities, or about twenty of interest, as fractions per package."""
    from service.engine.sampling.grids import qualities_of_interest

    if isinstance(request.qualities, UnsetType):
        return qualities_of_interest(curve)
    return [exact(quality) / 100 for quality in request.qualities]


def _stages(found: AttributesPlan | VariablesPlan) -> list[PlanStage]:
    if isinstance(found, VariablesPlan):
        return [PlanStage(packages=found.packages, k=reported(found.k))]
    return [
        PlanStage(packages=each.packages, accept=UNSET if each.accept is None else each.accept, reject=each.reject)
        for each in found.stages
    ]


def _point(curve: "Curve", quality: Fraction) -> CurvePoint:
    at = curve.at(quality)
    outgoing, drawn = rounded_figure(100 * at.average_outgoing_quality), rounded_figure(at.average_sample_number)
    return CurvePoint(reported(100 * quality), rounded_figure(at.acceptance), outgoing, drawn)


def _accepted(curve: "Curve", quality: float | None) -> QualityAccepted | UnsetType:
    if quality is None:
        return UNSET
    return QualityAccepted(rounded_figure(100 * quality), rounded_figure(curve.at(Fraction(quality)).acceptance))


def rounded_figure(figure: float) -> float:
    """Round to 12 significant digits; 0.0 below 1e-14."""
    # Fewer digits than a double has: the last ones depend on the machine's mathematical library.
    return 0.0 if abs(figure) < NOTHING else float(f"{figure:.{DIGITS}g}")
