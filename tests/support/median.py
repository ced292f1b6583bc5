"""A kind of requirement that the service does not have, as somebody would add one: the median is not below `at_least`.

Imported before a specification is, it takes its place in the table of kinds and in the type of their documents, as a kind of
the service's own does by two lines of `engine/requirements/kinds.py`.
"""

from collections.abc import Iterator
from fractions import Fraction
from statistics import median

from service.engine import requirements
from service.engine.documents import Finding, Flaw, Outcome, Reason, ResolvedLimits, number_flaws
from service.engine.lot import Lot
from service.engine.numbers import exact, nearest_double, reported
from service.engine.requirements import GradeContext, MeasuredRule
from service.engine.requirements.documents import Measured, NotNegative
from service.engine.requirements.kinds import Kind
from service.engine.requirements.measuring import measured_fields, measured_flaws


class Median(Measured, frozen=True, kw_only=True, tag="median"):
    """The median of the readings is not below `at_least`, in the characteristic's unit."""

    at_least: NotNegative


class MedianRule(MeasuredRule, frozen=True, kw_only=True):
    """A compiled requirement of the kind `median`."""

    at_least: Fraction

    def judge(self, lot: Lot) -> Finding:
        """Pass, fail, or undecided while the sample is short."""
        incomplete, readings = self.incomplete_sample(lot), lot.readings(self.of)
        if incomplete or readings is None:
            assert incomplete
            return self.undecided(incomplete)
        found = Fraction(median(readings.values(self.over).exact_values()))
        value, is_met = nearest_double(found), found >= self.at_least
        reason = Reason(
            "within" if is_met else "below-at-least",
            f"The median {self.of.words} is {value:g} {self.of.symbol}; at least {reported(self.at_least)} is asked for.",
            {"value": value, "limit": reported(self.at_least), "unit": self.of.symbol},
            f"{self.pointer}/at_least",
            *readings.all_pointers,
        )
        measured = self.measured("median", value, value, [readings])
        outcome = Outcome.PASS if is_met else Outcome.FAIL
        return self.finding(outcome, [reason], self.resolved, measured, nearest_double(found - self.at_least))


def flaws(document: Median, context: GradeContext, at: str) -> Iterator[Flaw]:
    """The flaws of the document; `at` is its place in the specification."""
    yield from measured_flaws(document, context.characteristic(document.of), at)
    yield from number_flaws(document.at_least, f"{at}/at_least")


def compiled(document: Median, context: GradeContext, pointer: str) -> MedianRule:
    """The compiled requirement; `document` has no flaws, and `pointer` is its place in the specification."""
    of, at_least = context.characteristic(document.of), exact(document.at_least)
    resolved = ResolvedLimits(lower=reported(at_least), unit=of.symbol)
    return MedianRule(at_least=at_least, resolved=resolved, **measured_fields(document, of, pointer))


requirements.Requirement = requirements.Requirement | Median
requirements.ENGINE_1 = {**requirements.ENGINE_1, Median: Kind(flaws, compiled)}  # type: ignore[dict-item, arg-type]  # the types there do not know it
