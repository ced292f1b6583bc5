"""Compiled requirements with limits: which limits apply to a lot, and how uncertainty moves them."""

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
    """A compiled requirement with limits; a kind adds `judge_by_known_limits`, which judges by `bounds` as they are."""

    bounds: Bounds
    limits: LotLimits | None = None
    """The fixed and the dependent limits together; None where no side depends on the lot."""
    guard: Guard | None = None

    @property
    def sources(self) -> Sequence[CompiledCharacteristic]:
        """The characteristic that it is on, its sources, and the characteristics that its limits are calculated from."""
        return (*self.of.lineage, *(self.limits.characteristics if self.limits else ()))

    @property
    def resolved_limits(self) -> ResolvedLimits | UnsetType:
        """Its limits as a finding reports them; UNSET where they depend on the lot."""
        return UNSET if self.limits else self.resolved

    def draws(self, lot: LotSize) -> Iterator[Draw | Undrawn]:
        """Its own sample, and the samples of the means that its limits depend on."""
        yield from super().draws(lot)
        for side in self.limits.averaged.values() if self.limits else ():
            if side not in self.of.sources:
                rule = f"{side.pointer}/sample" if side.sample else f"{self.pointer}/limits"
                size = side.own_sample(lot)
                needed = size if isinstance(size, NoPlan) else shortage_of(size, {}, 1, "readings")
                yield self.draw_of(side, side.sample, rule, needed, lot)

    def judge(self, lot: Lot) -> Finding:
        """Pass, fail, or undecided, by limits that are calculated for the lot and guarded where the grade says so."""
        # The usual requirement has fixed limits and no guard band, and then nothing is copied.
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
        """The finding by limits that are known and need no guard band; every kind overrides it."""
        raise AssertionError(f"The kind {self.kind} does not say how it judges.")

    def missing(self, lot: Lot) -> Sequence[Missing]:
        """The readings that its own sample lacks, and those that the samples behind its limits lack."""
        own = super().missing(lot)
        return greatest_needs([*own, *self.limits.missing(lot)]) if self.limits else own

    def resolved_with(self, bounds: Bounds) -> ResolvedLimits:
        """These limits as a finding reports them."""
        return bounds.resolved(self.of.symbol)

    def with_moved_limits(self, bounds: Bounds, expanded: ExpandedUncertainty, way: int) -> Self:
        """The requirement with its limits moved by the uncertainty; `way` as in `guarded`."""
        return replace(self, bounds=guarded(bounds, expanded, way), guard=None)

    def guarded(self, guard: Guard, expanded: ExpandedUncertainty, judge: Callable[[Self], Finding]) -> Finding:
        """Pass within the acceptance limits, fail beyond the rejection limits, between the two as the grade says.

        judge  gives the finding of the requirement that it gets, whose limits have been moved
        """
        rule = replace(self, resolved=self._resolved_guarded(guard, expanded), guard=None)
        accepting = rule if guard.rejects_guarded else rule.with_moved_limits(self.bounds, expanded, ACCEPTANCE)
        accepted = self._with_conformity(judge(accepting), expanded)
        # An undecided finding, of an incomplete sample, is not judged a second time by the rejection limits.
        if accepted.outcome != Outcome.FAIL or (guard.between == Outcome.FAIL and not guard.rejects_guarded):
            return accepted
        rejected = self._with_conformity(judge(rule.with_moved_limits(self.bounds, expanded, REJECTION)), expanded)
        if rejected.outcome == Outcome.FAIL:
            return rejected
        return accepted if guard.between == Outcome.FAIL else self._between_guarded(guard, accepted)

    def _stated_uncertainty(self, lot: Lot) -> ExpandedUncertainty | None:
        """The greatest uncertainty that the series state; None where at least one series states none."""
        readings = None if self.of.derived else lot.readings(self.of)
        stated = readings.uncertainties if readings else ()
        known = [each for each in stated if each]
        # The greatest, as readings of every series are judged by one guard band.
        return greatest_of(known, self.bounds.sides[0].limit) if known and len(known) == len(stated) else None

    def _resolved_guarded(self, guard: Guard, expanded: ExpandedUncertainty) -> ResolvedLimits:
        """The limits with the acceptance and the rejection limits, as a finding reports them."""
        # Only the limits that `guarded` compares with are reported.
        acceptance = UNSET if guard.rejects_guarded else guarded(self.bounds, expanded, ACCEPTANCE).resolved("")
        is_binary = guard.between == Outcome.FAIL and not guard.rejects_guarded
        rejection = UNSET if is_binary else guarded(self.bounds, expanded, REJECTION).resolved("")
        return replace(self.resolved, acceptance=acceptance, rejection=rejection)

    def _with_conformity(self, finding: Finding, expanded: ExpandedUncertainty) -> Finding:
        """The finding with the probability that the measured value conforms."""
        measured = finding.measured
        if measured is UNSET or measured.value is UNSET:
            return finding
        probability = conformity(self.bounds, expanded, measured.value)
        return replace(finding, measured=replace(measured, conformity_probability=probability))

    def _between_guarded(self, guard: Guard, accepted: Finding) -> Finding:
        """The undecided finding on a value between the acceptance and the rejection limits."""
        text = (
            f"With its uncertainty, the {self.of.words} is neither surely within the limits nor surely outside them. "
            "Measure with less uncertainty, or take more readings."
        )
        at = accepted.reasons[0]
        reason = Reason("between-guarded-limits", text, {}, guard.pointer, at.at, at.at_total)
        return replace(accepted, outcome=Outcome.UNDECIDED, margin=UNSET, reasons=[reason, *accepted.reasons])

    def _without_uncertainty(self, guard: Guard, lot: Lot) -> Finding:
        """The undecided finding where neither the grade nor every series states an uncertainty."""
        if incomplete := self.incomplete_sample(lot):
            return self.undecided(incomplete)
        readings = lot.readings(self.of)
        at = readings.all_pointers if readings else None
        text = (
            f"The grade guards its limits by the uncertainty, and none is given for {self.of.words}. "
            "Give `uncertainty` in every series, or in the grade."
        )
        places = (at.first, at.total) if at else ((), 0)
        return self.finding(Outcome.UNDECIDED, [Reason("uncertainty-missing", text, {}, guard.pointer, *places)], self.resolved)

    def _without_limit(self, unknown: UnknownLimit, lot: Lot) -> Finding:
        """The undecided finding where a limit cannot be calculated for the lot."""
        incomplete = self.incomplete_sample(lot)
        reasons = [unknown.reason, *([incomplete.reason] if incomplete else [])]
        return self.finding(Outcome.UNDECIDED, reasons)


class LimitedFields(MeasuredFields):
    """The fields of every compiled requirement with limits that come from its document."""

    bounds: Bounds
    limits: LotLimits | None
    guard: Guard | None


def limited_fields(document: Limited, context: GradeContext, pointer: str) -> LimitedFields:
    """The fields of a compiled requirement with limits, for its constructor."""
    of = context.characteristic(document.of)
    limits = lot_limits(document.limits, of, context, f"{pointer}/limits")
    return {
        **measured_fields(document, of, pointer),
        "bounds": limits.bounds,
        "limits": limits if limits.dependent else None,
        "guard": guard_of(document.decision, pointer),
    }
