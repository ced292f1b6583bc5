"""Draws: the samples that a compiled grade requires of a lot before it is tested."""

from collections.abc import Iterator

from msgspec import UNSET, UnsetType
from msgspec.structs import replace

from service.engine.documents import Draw, LotToDraw, ToDraw, Undrawn
from service.engine.grade import CompiledGrade
from service.engine.lot import lot_size_of
from service.engine.requirements import (
    AttributesRule,
    CompiledRequirement,
    ContentK,
    MeasuredRule,
    Retest,
    RetestOfCounts,
    VariablesRule,
    with_retest_sample,
)
from service.engine.sampling import LotSize

IF_IT_FAILS = "if the first sample fails"


def what_to_draw(
    grade: CompiledGrade, lot: LotToDraw, code: str | UnsetType = UNSET, revision: int | UnsetType = UNSET
) -> ToDraw:
    """The packages to draw from a lot without flaws; `code` and `revision` are how the caller named the grade."""
    size = lot_size_of(lot)
    needed = [each for requirement in grade.requirements for each in _draws(requirement, size)]
    draws = [_with_packs(each, grade, size) for each in needed if isinstance(each, Draw)]
    return ToDraw(
        grade=code,
        revision=revision,
        specification=grade.digest,
        lot=lot,
        draws=draws,
        undecided=[each for each in needed if isinstance(each, Undrawn)],
        # The most of any draw, not the sum: one package serves several characteristics. Second samples may not be needed.
        packages=max((each.packages for each in draws if not each.stage or each.stage == 1), default=0),
    )


def _draws(requirement: CompiledRequirement, lot: LotSize) -> Iterator[Draw | Undrawn]:
    """The samples of a requirement, and the second sample that is allowed where the first fails."""
    if requirement.retest is None:
        yield from requirement.draws(lot)
        return
    retested = list(_retest_draws(requirement, requirement.retest, lot))
    # Only samples that the retest repeats get a stage; the sample of a mean that limits depend on is drawn once.
    repeated = {(each.characteristic, each.class_) for each in retested if isinstance(each, Draw)}
    for each in requirement.draws(lot):
        is_first = isinstance(each, Draw) and (each.characteristic, each.class_) in repeated
        yield replace(each, stage=1) if is_first else each
    for each in retested:
        yield replace(each, stage=2, when=IF_IT_FAILS) if isinstance(each, Draw) else each


def _retest_draws(requirement: CompiledRequirement, retest: Retest, lot: LotSize) -> Iterator[Draw | Undrawn]:
    """The second sample alone; where both are judged together, with the accept number of both."""
    pointer = f"{requirement.pointer}/retest/sample"
    if isinstance(requirement, AttributesRule) and isinstance(retest, RetestOfCounts):
        plan = retest.sample.attributes_plan(requirement.seen(lot), requirement.retest_accept_number(retest))
        yield from requirement.draws_by_attributes(plan, pointer)
    elif isinstance(requirement, MeasuredRule):
        # A k of content and confidence depends on the number of values: of both samples together it is not known yet.
        k_by_values = isinstance(requirement, VariablesRule) and isinstance(requirement.origin, ContentK)
        for each in with_retest_sample(requirement, retest).draws(lot):
            if each.rule != pointer:
                continue
            leaves_k_open = isinstance(each, Draw) and k_by_values and retest.judge == "together"
            yield replace(each, k=UNSET) if leaves_k_open else each


def _with_packs(draw: Draw, grade: CompiledGrade, lot: LotSize) -> Draw:
    """The draw with packs and the packages in them, where readings are of packs; the last pack may hold fewer packages."""
    of = grade.characteristics.get(draw.characteristic or "")
    if of is None or of.holds == 1:
        return draw
    packages = draw.packages * of.holds
    return replace(draw, packs=draw.packages, packages=min(packages, lot.packages) if lot.packages else packages)
