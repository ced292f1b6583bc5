"""The kind `variables`: acceptance by variables.

Source: MIL-STD-414, section B, Form 1: accept where (mean − L)/s ≥ k, s with n − 1; equality accepts.
"""

from collections.abc import Iterator
from fractions import Fraction
from functools import partial
from typing import NamedTuple

from msgspec import UNSET, UnsetType
from msgspec.structs import replace

from service.engine.characteristics import LimitSide, Readings
from service.engine.documents import Draw, Finding, Flaw, Outcome, Reason, Undrawn, number_flaws
from service.engine.lot import Lot
from service.engine.numbers import (
    ZERO,
    Column,
    Exact,
    Known,
    KnownExact,
    answered,
    combined,
    decimals_of,
    difference,
    exact,
    figures_beside,
    nearest_double,
    reported,
    rooted,
    side_of,
)
from service.engine.requirements.grade_context import GradeContext
from service.engine.requirements.limits.flaws import all_limits_flaws
from service.engine.requirements.limits.guarding import decision_not_here
from service.engine.requirements.limits.rules import LimitedRule, limited_fields
from service.engine.requirements.measuring import measured_flaws, sample_of_two_flaws
from service.engine.requirements.quality import AcceptedByQuality, FoundK, GivenK, KSource, k_flaws, k_source_of
from service.engine.requirements.wording import limit_parameters
from service.engine.sampling import LotSize, NoPlan


class Variables(AcceptedByQuality, frozen=True, kw_only=True, tag="variables"):
    """(mean − L)/s ≥ k and (U − mean)/s ≥ k, where k is given, or of a content and a confidence, or of the sample's plan."""


class QualityStatistic(NamedTuple):
    """The quality statistic compared with k, and its words in a sentence."""

    is_low: bool
    """True below k."""
    value: float
    margin: float
    """The quality statistic less k; negative below k."""
    deviations: str
    """`1.286 standard deviations`, always on its true side of k."""
    is_inside: bool
    """True where the mean is inside the limit, or on it."""

    def side_of(self, side: LimitSide) -> str:
        """Where the mean lies: `above` or `below` the limit."""
        return "above" if (side.name == "lower") == self.is_inside else "below"


class VariablesRule(LimitedRule, frozen=True, kw_only=True):
    """A compiled requirement of the kind `variables`."""

    origin: KSource
    sigma: Fraction | None

    def draws(self, lot: LotSize) -> Iterator[Draw | Undrawn]:
        """The sample of each characteristic, and for its own sources the k that it is judged by."""
        own = [source.name for source in self.of.sources]
        for each in super().draws(lot):
            if isinstance(each, Undrawn) or each.characteristic not in own:
                yield each
            else:
                found = self.origin.k_for(
                    self.of.counted(self.seen(lot)), each.packages if self.over == "packages" else each.readings or 1
                )
                assert not isinstance(found, NoPlan)
                yield replace(each, k=reported(found.k), letter=found.letter or UNSET)

    def judge_by_known_limits(self, lot: Lot) -> Finding:
        """Pass, fail, or undecided while the sample is incomplete; measured is the quality statistic, with the unit `1`."""
        incomplete, readings = self.incomplete_sample(lot), lot.readings(self.of)
        if incomplete or readings is None:
            assert incomplete
            return self.undecided(incomplete)
        column = readings.values(self.over)
        found = self.origin.k_for(self.of.counted(self.seen(lot.sizes)), column.count)
        # A plan without a size for this lot leaves the sample incomplete, so one with a size is left here.
        assert not isinstance(found, NoPlan)
        rule = replace(self, resolved=replace(self.resolved, k=reported(found.k)))
        return rule._by_k(found, column, readings)  # noqa: SLF001  of this class

    def _by_k(self, found: FoundK, column: Column, readings: Readings) -> Finding:
        """The finding by the quality statistic and k; by the mean and the limits where all values are equal."""
        mean = column.mean()
        side = answered(mean, self.bounds.nearest)
        variance = column.variance() if self.sigma is None else self.sigma**2
        if variance == 0:
            return self._without_spread(mean, side, readings)
        # The nearer limit has the smaller statistic, so it decides for both.
        quality = answered(_quality(combined(side.margin, mean), variance), partial(_beside_k, k=found.k))
        measured = self.measured("quality", quality.value, quality.value, [readings], "1")
        outcome = Outcome.FAIL if quality.is_low else Outcome.PASS
        return self.finding(outcome, [self._reason(quality, found, side, readings)], self.resolved, measured, quality.margin)

    def _reason(self, quality: QualityStatistic, found: FoundK, side: LimitSide, readings: Readings) -> Reason:
        text = f"The mean {self.of.words} lies {quality.deviations} {quality.side_of(side)} {side.words}; {found.words}."
        parameters = {"value": quality.value, "k": reported(found.k), "limit": side.reported, "unit": self.of.symbol}
        code = "quality-below-k" if quality.is_low else "within"
        return Reason(code, text, parameters, found.pointer, *readings.all_pointers)

    def _without_spread(self, mean: Known, side: LimitSide, readings: Readings) -> Finding:
        """The finding where all values are equal: s is 0, no quotient exists, and the limits themselves decide."""
        position = answered(mean, side.standing)
        passes, at = position.is_met, readings.all_pointers
        text = f"All values of {self.of.words} are the same: {position.shown}, which {position.where}."
        code = "within" if passes else "quality-below-k"
        reason = Reason(code, text, limit_parameters(position, side), side.pointer, at.first, at.total)
        return self.finding(Outcome.PASS if passes else Outcome.FAIL, [reason], self.resolved)


def _beside_k(quality: Exact, k: Fraction) -> QualityStatistic:
    """The quality statistic compared with k; equality accepts."""
    away = side_of(quality, k)
    shown = figures_beside(quality, k, decimals_of(k), away)[0].removeprefix("-")
    deviations = f"{'' if away else 'exactly '}{shown} standard deviation{'' if shown == '1' else 's'}"
    is_inside = side_of(quality, ZERO) >= 0
    return QualityStatistic(away < 0, nearest_double(quality), difference(quality, k), deviations, is_inside)


def _quality(margin: Known, variance: Known) -> KnownExact:
    """The mean's margin divided by the standard deviation, as a signed root: ±√(margin²/variance) is exact."""
    sign = -1 if answered(margin, lambda number: number < 0) else 1
    return rooted(combined(lambda apart, square: apart**2 / square, margin, variance), sign)


def flaws(document: Variables, context: GradeContext, at: str) -> Iterator[Flaw]:
    """The flaws of the document; `at` is its place in the specification."""
    of = context.characteristic(document.of)
    yield from measured_flaws(document, of, at)
    yield from all_limits_flaws(document.limits, of, context, f"{at}/limits")
    yield from decision_not_here(document.decision, "variables", at)
    yield from k_flaws(document, of, at)
    if isinstance(document.sigma, UnsetType):
        yield from sample_of_two_flaws(document, of, at)
    else:
        yield from number_flaws(document.sigma, f"{at}/sigma")
    if not isinstance(document.rounding, UnsetType):
        text = "The distance from the limit in standard deviations is never rounded. Remove `rounding`, or use the kind `mean`."
        yield Flaw("rounding-not-here", text, f"{at}/rounding")


def compiled(document: Variables, context: GradeContext, pointer: str) -> VariablesRule:
    """The compiled requirement; `document` has no flaws, and `pointer` is its place in the specification."""
    fields = limited_fields(document, context, pointer)
    sigma = None if isinstance(document.sigma, UnsetType) else exact(document.sigma)
    origin = k_source_of(document, fields["of"], pointer)
    resolved = fields["bounds"].resolved(fields["of"].symbol)
    if isinstance(origin, GivenK):
        resolved = replace(resolved, k=reported(origin.k))
    return VariablesRule(origin=origin, sigma=sigma, resolved=resolved, least_values=1 if sigma else 2, **fields)
