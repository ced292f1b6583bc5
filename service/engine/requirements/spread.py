"""The kind `spread`: a standard deviation, a range or a coefficient of variation is not above `at_most`."""

from collections.abc import Iterator
from fractions import Fraction
from typing import Literal

from service.engine.characteristics import Readings
from service.engine.documents import Finding, Flaw, Outcome, Reason, ResolvedLimits, number_flaws
from service.engine.lot import Lot
from service.engine.numbers import Column, Figures, KnownExact, answered, combined, exact, nearest_double, reported, rooted
from service.engine.requirements.documents import Measured, NotNegative
from service.engine.requirements.grade_context import GradeContext
from service.engine.requirements.limits.guarding import decision_not_here
from service.engine.requirements.measuring import (
    MeasuredRule,
    MissingReadings,
    measured_fields,
    measured_flaws,
    sample_of_two_flaws,
)
from service.engine.requirements.wording import ComparedWithMost, before_value, compared_with_most, most_figures

Statistic = Literal["standard_deviation", "range", "coefficient_of_variation"]
PERCENT = "%"


class Spread(Measured, frozen=True, kw_only=True, tag="spread"):
    """The statistic is not above `at_most`, which is in the characteristic's unit, or in % for a coefficient of variation."""

    statistic: Statistic
    at_most: NotNegative


class SpreadRule(MeasuredRule, frozen=True, kw_only=True):
    """A compiled requirement of the kind `spread`."""

    statistic: Statistic
    at_most: Fraction
    most: Figures
    unit: str
    """The unit of the statistic."""
    subject: str
    """The start of every sentence about it: `The standard deviation of breaking force, `."""
    limit_pointer: str

    def judge(self, lot: Lot) -> Finding:
        """Pass, fail, or undecided while the sample is incomplete, or where a coefficient of variation has no mean above 0."""
        incomplete, readings = self.incomplete_sample(lot), lot.readings(self.of)
        if readings is None or (incomplete and not self._is_lost(readings)):
            assert incomplete
            return self.undecided(incomplete)
        column = readings.values(self.over)
        if self.statistic == "coefficient_of_variation" and answered(column.mean(), lambda mean: mean <= 0):
            return self.undecided(self._mean_not_positive(column, readings))
        observed = self._value(column)
        value: KnownExact = answered(observed, self.rounding.of) if self.rounding else observed
        compared = answered(value, lambda number: compared_with_most(number, self.most))
        unrounded = answered(observed, nearest_double) if self.rounding else compared.value
        measured = self.measured(self.statistic, compared.value, unrounded, [readings], self.unit)
        outcome = Outcome.PASS if compared.margin >= 0 else Outcome.FAIL
        return self.finding(outcome, [self._reason(compared, readings)], self.resolved, measured, compared.margin)

    def _is_lost(self, readings: Readings) -> bool:
        """True where an incomplete sample has failed already."""
        # Further readings can only widen a range; every other spread, and every mean of a package, can still shrink.
        return (
            self.statistic == "range" and self.over == "readings" and self.rounded(self._range(readings.column)) > self.at_most
        )

    def _value(self, column: Column) -> KnownExact:
        """The statistic before rounding."""
        if self.statistic == "range":
            return self._range(column)
        if self.statistic == "standard_deviation":
            return rooted(column.variance())
        # Exact: the root of (s/mean · 100)², compared by its square; the mean is above 0, as `judge` has checked.
        return rooted(combined(lambda variance, mean: variance / mean**2 * 100**2, column.variance(), column.mean()))

    @staticmethod
    def _range(column: Column) -> Fraction:
        low, high = column.extremes()
        return high - low

    def _reason(self, compared: ComparedWithMost, readings: Readings) -> Reason:
        text, at = f"{self.subject}{compared.shown}, {compared.where}.", readings.all_pointers
        parameters = {"value": compared.value, "limit": self.resolved.at_most, "unit": self.unit, "by": abs(compared.margin)}
        return Reason(compared.code, text, parameters, self.limit_pointer, at.first, at.total)

    def _mean_not_positive(self, column: Column, readings: Readings) -> MissingReadings:
        text = (
            f"The mean {self.of.words} is not above 0, so it has no coefficient of variation. "
            "Limit another spread in the grade."
        )
        at = readings.all_pointers
        parameters = {"mean": answered(column.mean(), nearest_double), "unit": self.of.symbol}
        return MissingReadings(Reason("mean-not-positive", text, parameters, f"{self.pointer}/statistic", at.first, at.total))


def flaws(document: Spread, context: GradeContext, at: str) -> Iterator[Flaw]:
    """The flaws of the document; `at` is its place in the specification."""
    of = context.characteristic(document.of)
    yield from measured_flaws(document, of, at)
    yield from number_flaws(document.at_most, f"{at}/at_most")
    # The uncertainty of a reading is not that of a spread of readings, so there is no guard band for one.
    yield from decision_not_here(document.decision, "spread", at)
    yield from sample_of_two_flaws(document, of, at)


def compiled(document: Spread, context: GradeContext, pointer: str) -> SpreadRule:
    """The compiled requirement; `document` has no flaws, and `pointer` is its place in the specification."""
    of = context.characteristic(document.of)
    at_most = exact(document.at_most)
    unit = PERCENT if document.statistic == "coefficient_of_variation" else of.symbol
    fields = measured_fields(document, of, pointer)
    rounded = before_value(None, is_rounded=fields["rounding"] is not None)
    return SpreadRule(
        statistic=document.statistic,
        at_most=at_most,
        most=most_figures(at_most, unit),
        unit=unit,
        subject=f"The {document.statistic.replace('_', ' ')} of {of.words}, {rounded}",
        limit_pointer=f"{pointer}/at_most",
        resolved=ResolvedLimits(at_most=reported(at_most), unit=unit),
        least_values=2,
        **fields,
    )
