"""What a sampling plan comes to for a lot, and its risks: its operating characteristic and what goes with it."""

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
"""The probabilities of acceptance at which a producer's and a consumer's quality are usually told."""
DIGITS, NOTHING = 12, 1e-14
"""A figure is good to more digits than are told; a probability below the last is told as 0."""


class PlanStage(Struct, frozen=True, kw_only=True):
    """One sample, and when it accepts or rejects."""

    packages: int
    """To draw in this stage."""
    accept: int | UnsetType = UNSET
    """Ac: so many at most, in all stages up to here, accept; left out where this stage can't accept."""
    reject: int | UnsetType = UNSET
    """Re: so many at least, in all stages up to here, reject."""
    k: Numeral | UnsetType = UNSET
    """The least quality statistic that accepts."""


class CurvePoint(Struct, frozen=True):
    """What becomes of lots of one quality."""

    quality: Numeral
    """In percent nonconforming, or in occurrences per hundred packages."""
    acceptance: float
    """The probability that the plan accepts."""
    average_outgoing_quality: float
    """In the unit of the quality, where rejected lots are sorted whole and what is found is made good."""
    average_sample_number: float
    """In packages."""


class QualityAccepted(Struct, frozen=True):
    """A quality, and the probability that it is accepted."""

    quality: float
    acceptance: float


class SamplingPlan(Struct, frozen=True, kw_only=True):
    """A plan for a lot, and its risks."""

    format: int = FORMAT
    engine: str = ENGINE
    by: Basis
    table: str | UnsetType = UNSET
    letter: str | UnsetType = UNSET
    """Of the table, after its arrows."""
    inspection: Inspection
    stages: list[PlanStage]
    takes_all: bool | UnsetType = UNSET
    """True where the sample is the whole lot; left out where it is not."""
    law: Law | LawOfVariables
    """Of the counts; by variables that of the quality statistic, `normal` where sigma is known."""
    curve: list[CurvePoint]
    producer: QualityAccepted | UnsetType = UNSET
    """The worst quality that is accepted with 95 %; left out where there is none."""
    consumer: QualityAccepted | UnsetType = UNSET
    """The best quality that is accepted with 10 % or less; left out where there is none."""


def plan(request: PlanRequest) -> SamplingPlan:
    """The plan and its risks; the same answer to the same question. Raises FlawedDocumentError."""
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
    """By the table, by the two points, or of a size with the Ac or the k that the caller gives."""
    if request.basis == "attributes":
        return request.sample.attributes_plan(lot, None if isinstance(request.at_most, UnsetType) else request.at_most)
    if isinstance(request.k, UnsetType):
        return request.sample.variables_plan(lot)
    # How many a size takes and whether the lot has so many is the same for readings as for packages.
    sized = request.sample.attributes_plan(lot, 0)
    return sized if isinstance(sized, NoPlan) else VariablesPlan(sized.stages[0].packages, exact(request.k))


def _size_flaws(request: PlanRequest, found: AttributesPlan | VariablesPlan) -> Iterator[Flaw]:
    """The sample is neither too large to work its risks out nor too small to have a spread."""
    packages = found.packages if isinstance(found, VariablesPlan) else sum(stage.packages for stage in found.stages)
    if packages > MOST_PACKAGES:
        text = f"The plan takes {packages} packages, and risks are worked out up to 100,000. Take a smaller sample."
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
        law=request.law_taken if isinstance(found, AttributesPlan) else of_variables,
        curve=[_point(curve, quality) for quality in _qualities(request, curve)],
        producer=_accepted(curve, curve.accepted_with_at_least(OFTEN)),
        consumer=_accepted(curve, curve.accepted_with_at_most(SELDOM)),
    )


def _curve_of(request: PlanRequest, found: AttributesPlan | VariablesPlan, lot: LotSize) -> "Curve":
    """What works the risks out; loaded when the first plan is asked for."""
    from service.engine.sampling.curves import AttributesCurve, VariablesCurve  # only where a plan needs it

    if isinstance(found, AttributesPlan):
        return AttributesCurve(found, request.law_taken, lot.packages)
    return VariablesCurve(found, request.sigma == "known", lot.packages)


def _qualities(request: PlanRequest, curve: "Curve") -> Sequence[Fraction]:
    """Those that are asked for, or about twenty of interest, per package."""
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
    """A figure with twelve digits, which is what every machine makes of it alike; 0 where next to nothing is left."""
    return 0.0 if abs(figure) < NOTHING else float(f"{figure:.{DIGITS}g}")
