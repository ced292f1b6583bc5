"""The kind `mean`: the arithmetic mean is within limits."""

from collections.abc import Iterator, Sequence

from service.engine.characteristics import Readings, series_of
from service.engine.deriving import Quotient
from service.engine.documents import Finding, Flaw, Outcome
from service.engine.lot import Lot
from service.engine.numbers import Known, answered, nearest_double
from service.engine.requirements.documents import Limited
from service.engine.requirements.grade_context import GradeContext
from service.engine.requirements.limits.flaws import all_limits_flaws
from service.engine.requirements.limits.guarding import decision_flaws
from service.engine.requirements.limits.rules import LimitedRule, limited_fields
from service.engine.requirements.measuring import measured_flaws
from service.engine.requirements.wording import before_value, limit_reason


class Mean(Limited, frozen=True, kw_only=True, tag="mean"):
    """The arithmetic mean is within the limits."""


class MeanRule(LimitedRule, frozen=True, kw_only=True):
    """A compiled requirement of the kind `mean`."""

    subject: str
    """The start of every sentence about it: `The mean breaking force, `."""

    def judge_by_known_limits(self, lot: Lot) -> Finding:
        """Pass, fail, or undecided while the sample is short."""
        if incomplete := self.incomplete_sample(lot):
            return self.undecided(incomplete)
        readings = self._readings(lot)
        observed = self._mean(readings)
        # `answered` asks both ends of an enclosure and calculates the exact mean only where the two answers differ.
        value = answered(observed, self.rounding.of) if self.rounding else observed
        side = self.bounds.alone or answered(value, self.bounds.nearest)
        at = readings[0].all_pointers if len(readings) == 1 else series_of(*readings)
        position = answered(value, side.standing)
        reason = limit_reason(self.subject, position, side, at)
        # The value before rounding is reported only where the requirement rounds.
        unrounded = answered(observed, nearest_double) if self.rounding else position.value
        measured = self.measured("mean", position.value, unrounded, readings)
        # Not by the sign of the margin: on a limit that excludes its own value the margin is 0, and the finding fails.
        outcome = Outcome.PASS if position.is_met else Outcome.FAIL
        return self.finding(outcome, [reason], self.resolved, measured, position.distance)

    def _readings(self, lot: Lot) -> Sequence[Readings]:
        """The readings that are averaged: those of the characteristic, or those of both sides of a ratio of means."""
        if self.of.derived is None:
            return [lot.by_characteristic[self.of.name]]
        pooled = self.of.derived.of_means
        found = (lot.readings(side) for side in (self.of.sides if pooled else (self.of,)))
        return [readings for readings in found if readings]

    def _mean(self, readings: Sequence[Readings]) -> Known:
        """The mean in the characteristic's unit; for a ratio of means, the mean of one side divided by that of the other."""
        if self.of.derived and isinstance(self.of.derived, Quotient) and self.of.derived.of_means:
            return self.of.derived.of_pooled(*readings)
        return readings[0].values(self.over).mean()


def flaws(document: Mean, context: GradeContext, at: str) -> Iterator[Flaw]:
    """The flaws of the document; `at` is its place in the specification."""
    of = context.characteristic(document.of)
    yield from measured_flaws(document, of, at)
    yield from all_limits_flaws(document.limits, of, context, f"{at}/limits")
    yield from decision_flaws(document.decision, f"{at}/decision")


def compiled(document: Mean, context: GradeContext, pointer: str) -> MeanRule:
    """The compiled requirement; `document` has no flaws, and `pointer` is its place in the specification."""
    fields = limited_fields(document, context, pointer)
    of = fields["of"]
    subject = f"The mean {of.words}, {before_value(None, is_rounded=fields['rounding'] is not None)}"
    return MeanRule(resolved=fields["bounds"].resolved(of.symbol), subject=subject, **fields)
