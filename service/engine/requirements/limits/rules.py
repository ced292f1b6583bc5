"""Requirements that compare something with limits: which limits hold for this lot, and how uncertainty bears on them."""

from collections.abc import Callable, Iterator, Sequence
from typing import Self

from msgspec import UNSET, UnsetType
from msgspec.structs import replace

from service.engine.characteristics import Bounds, CompiledCharacteristic, ExpandedUncertainty, greatest_of
from service.engine.documents import Draw, Finding, Missing, Outcome, Reason, ResolvedLimits, Undrawn
from service.engine.lot import Lot
from service.engine.requirements.documents import Limited
from service.engine.requirements.grade_context import GradeContext
from service.engine.requirements.limits.dependence import LotLimits, UnknownLimit, lot_limits
from service.engine.requirements.limits.guarding import (
    ACCEPTANCE,
    REJECTION,
    Guard,
    conformity,
    guard_of,
    guarded,
)
from service.engine.requirements.measuring import MeasuredFields, MeasuredRule, measured_fields
from service.engine.requirements.shortage import greatest_needs, shortage_of
from service.engine.sampling import LotSize, NoPlan


class LimitedRule(MeasuredRule, frozen=True, kw_only=True):
    """A requirement with limits; a kind says by `judge_within` how it judges by limits that are known."""

    bounds: Bounds
    limits: LotLimits | None = None
    """Where a side depends on the lot, all of them."""
    guard: Guard | None = None

    @property
    def sources(self) -> Sequence[CompiledCharacteristic]:
        """What it is put on, and what its limits are worked out from."""
        return (*self.of.lineage, *(self.limits.characteristics if self.limits else ()))

    @property
    def resolved_limits(self) -> ResolvedLimits | UnsetType:
        """Its limits as a finding gives them, where they need not be worked out."""
        return UNSET if self.limits else self.resolved

    def draws(self, lot: LotSize) -> Iterator[Draw | Undrawn]:
        """Its sample, and the samples of what its limits are worked out from."""
        yield from super().draws(lot)
        for side in self.limits.averaged.values() if self.limits else ():
            if side not in self.of.sources:
                rule = f"{side.pointer}/sample" if side.sample else f"{self.pointer}/limits"
                size = side.own_sample(lot)
                wanted = size if isinstance(size, NoPlan) else shortage_of(size, {}, 1, "readings")
                yield self.draw_of(side, side.sample, rule, wanted, lot)

    def judge(self, lot: Lot) -> Finding:
        """Pass, fail, or undecided; by limits worked out for this lot and guarded where the grade says so."""
        if self.limits is None and self.guard is None:
            return self.judge_by_known_limits(lot)
        rule = self
        if self.limits:
            found = self.limits.for_lot(lot)
            if isinstance(found, UnknownLimit):
                return self._without_limit(found, lot)
            resolved = replace(self.resolved_with(found.bounds), worked_out=found.sources)
            rule = replace(self, bounds=found.bounds, limits=None, resolved=resolved)
        if self.guard is None:
            return rule.judge_by_known_limits(lot)
        expanded = self.guard.uncertainty or self._stated_uncertainty(lot)
        if expanded is None:
            return self._without_uncertainty(self.guard, lot)
        return rule.guarded(self.guard, expanded, lambda moved: moved.judge_by_known_limits(lot))

    def judge_by_known_limits(self, lot: Lot) -> Finding:
        """By limits that are known; each kind has its own."""
        raise AssertionError(f"The kind {self.kind} does not say how it judges.")

    def missing(self, lot: Lot) -> Sequence[Missing]:
        """What its own sample lacks, and those of the means that its limits follow from."""
        own = super().missing(lot)
        return greatest_needs([*own, *self.limits.missing(lot)]) if self.limits else own

    def resolved_with(self, bounds: Bounds) -> ResolvedLimits:
        """These limits as a finding gives them."""
        return bounds.resolved(self.of.symbol)

    def with_moved_limits(self, bounds: Bounds, expanded: ExpandedUncertainty, way: int) -> Self:
        """The same requirement with its limits moved."""
        return replace(self, bounds=guarded(bounds, expanded, way), guard=None)

    def guarded(self, guard: Guard, expanded: ExpandedUncertainty, judge: Callable[[Self], Finding]) -> Finding:
        """Pass within the acceptance limits, fail beyond the rejection limits, between them as the grade says.

        judge  gives a finding by the same requirement with limits that have been moved
        """
        rule = replace(self, resolved=self._resolved_guarded(guard, expanded), guard=None)
        accepting = rule if guard.rejects_guarded else rule.with_moved_limits(self.bounds, expanded, ACCEPTANCE)
        accepted = self._with_conformity(judge(accepting), expanded)
        if accepted.outcome != Outcome.FAIL or (guard.between == Outcome.FAIL and not guard.rejects_guarded):
            return accepted
        rejected = self._with_conformity(judge(rule.with_moved_limits(self.bounds, expanded, REJECTION)), expanded)
        if rejected.outcome == Outcome.FAIL:
            return rejected
        return accepted if guard.between == Outcome.FAIL else self._between_guarded(guard, accepted)

    def _stated_uncertainty(self, lot: Lot) -> ExpandedUncertainty | None:
        """The greatest uncertainty that the series state; None where one states none."""
        readings = None if self.of.derived else lot.readings(self.of)
        stated = readings.uncertainties if readings else ()
        known = [each for each in stated if each]
        return greatest_of(known, self.bounds.sides[0].limit) if known and len(known) == len(stated) else None

    def _resolved_guarded(self, guard: Guard, expanded: ExpandedUncertainty) -> ResolvedLimits:
        """The limits, and where they are drawn in or pushed out."""
        acceptance = UNSET if guard.rejects_guarded else guarded(self.bounds, expanded, ACCEPTANCE).resolved("")
        is_binary = guard.between == Outcome.FAIL and not guard.rejects_guarded
        rejection = UNSET if is_binary else guarded(self.bounds, expanded, REJECTION).resolved("")
        return replace(self.resolved, acceptance=acceptance, rejection=rejection)

    def _with_conformity(self, finding: Finding, expanded: ExpandedUncertainty) -> Finding:
        """The finding, with the probability that the value conforms."""
        measured = finding.measured
        if measured is UNSET or measured.value is UNSET:
            return finding
        probability = conformity(self.bounds, expanded, measured.value)
        return replace(finding, measured=replace(measured, conformity_probability=probability))

    def _between_guarded(self, guard: Guard, accepted: Finding) -> Finding:
        """Neither accepted nor rejected for certain."""
        text = (
            f"Between the guarded limits: with its uncertainty the {self.of.words} is neither within the limits for certain "
            "nor outside them. Measure with less uncertainty, or take more readings."
        )
        at = accepted.reasons[0]
        reason = Reason("between-guarded-limits", text, {}, guard.pointer, at.at, at.at_total)
        return replace(accepted, outcome=Outcome.UNDECIDED, margin=UNSET, reasons=[reason, *accepted.reasons])

    def _without_uncertainty(self, guard: Guard, lot: Lot) -> Finding:
        """Nobody states an uncertainty."""
        if incomplete := self.incomplete_sample(lot):
            return self.undecided(incomplete)
        readings = lot.readings(self.of)
        at = readings.all_pointers if readings else None
        text = (
            f"The grade guards its limits, and no uncertainty of {self.of.words} is stated. "
            "Give `uncertainty` in every series, or in the grade."
        )
        places = (at.first, at.total) if at else ((), 0)
        return self.finding(Outcome.UNDECIDED, [Reason("uncertainty-missing", text, {}, guard.pointer, *places)], self.resolved)

    def _without_limit(self, unknown: UnknownLimit, lot: Lot) -> Finding:
        """A limit can't be worked out from this lot."""
        incomplete = self.incomplete_sample(lot)
        reasons = [unknown.reason, *([incomplete.reason] if incomplete else [])]
        return self.finding(Outcome.UNDECIDED, reasons)


class LimitedFields(MeasuredFields):
    """What every requirement with limits takes over from its document."""

    bounds: Bounds
    limits: LotLimits | None
    guard: Guard | None


def limited_fields(document: Limited, context: GradeContext, pointer: str) -> LimitedFields:
    """What the compiled requirement takes over."""
    of = context.characteristic(document.of)
    limits = lot_limits(document.limits, of, context, f"{pointer}/limits")
    return {
        **measured_fields(document, of, pointer),
        "bounds": limits.bounds,
        "limits": limits if limits.dependent else None,
        "guard": guard_of(document.decision, pointer),
    }
