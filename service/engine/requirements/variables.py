"""The kind `variables`: acceptance by variables, with the k that the grade gives.

Source: MIL-STD-414, section B, Form 1: accept where (mean − L)/s ≥ k, s with n − 1; equality accepts.
"""

from collections.abc import Iterator
from fractions import Fraction
from typing import NamedTuple

from msgspec import UnsetType
from msgspec.structs import replace

from service.engine.bounds import Bounds, Side, number_flaws
from service.engine.draws import Draw, Undrawn
from service.engine.enclosures import Known, KnownExact, combined, rooted, settled
from service.engine.flaws import Flaw
from service.engine.lots import Lot, Readings
from service.engine.numerals import (
    Exact,
    decimals_of,
    difference,
    exact,
    figures_beside,
    nearest_double,
    plain,
    reported,
    side_of,
)
from service.engine.requirements.documents import Limited, NotNegative
from service.engine.requirements.limits.flaws import all_limits_flaws
from service.engine.requirements.limits.guarding import decision_not_here
from service.engine.requirements.limits.rules import LimitedRule, limited_parts
from service.engine.requirements.measuring import measured_flaws, sample_of_two_flaws
from service.engine.requirements.surroundings import Surroundings
from service.engine.requirements.wording import beside
from service.engine.sampling import LotSize
from service.engine.verdict import Finding, Outcome, Reason, ResolvedLimits


class Variables(Limited, frozen=True, kw_only=True, tag="variables"):
    """(mean − L)/s ≥ k and (U − mean)/s ≥ k; with two limits each by k."""

    k: NotNegative


class Quality(NamedTuple):
    """Where the quality statistic lies beside k, worked out once for all that is said of it."""

    is_low: bool
    """True below k."""
    value: float
    margin: float
    """How far above k; negative below it."""
    shown: str
    where: str


class VariablesRule(LimitedRule, frozen=True, kw_only=True):
    """The same, ready to judge."""

    k: Fraction

    def resolved_by(self, bounds: Bounds) -> ResolvedLimits:
        """These limits and k."""
        return replace(bounds.resolved(self.of.symbol), k=reported(self.k))

    def draws(self, lot: LotSize) -> Iterator[Draw | Undrawn]:
        """The sample, and the k that it is judged by."""
        for each in super().draws(lot):
            yield replace(each, k=reported(self.k)) if isinstance(each, Draw) else each

    def judge_within(self, lot: Lot) -> Finding:
        """Pass, fail, or undecided while the sample is short."""
        lack, readings = self.lack(lot), lot.readings(self.of)
        if lack or readings is None:
            assert lack
            return self.undecided(lack)
        column = readings.values(self.over)
        mean, variance = column.mean(), column.variance()
        side = settled(mean, self.bounds.nearest)
        if variance == 0:
            return self._without_spread(mean, side, readings)
        quality = settled(_quality(combined(side.margin, mean), variance), self._beside_k)
        measured = self.measured("quality", quality.value, quality.value, [readings], "1")
        outcome = Outcome.FAIL if quality.is_low else Outcome.PASS
        return self.finding(outcome, [self._reason(quality, side, readings)], self.resolved, measured, quality.margin)

    def _beside_k(self, quality: Exact) -> Quality:
        """The quality statistic beside k."""
        away = side_of(quality, self.k)
        shown, by = figures_beside(quality, self.k, decimals_of(self.k), away)
        where = f"{by} below" if away < 0 else f"{by} above" if away else "exactly"
        return Quality(away < 0, nearest_double(quality), difference(quality, self.k), shown, where)

    def _reason(self, quality: Quality, side: Side, readings: Readings) -> Reason:
        subject = f"The quality statistic of {self.of.words} towards {side.words}"
        text = f"{subject}, {quality.shown}, is {quality.where} the k of {plain(self.k)}."
        parameters = {"value": quality.value, "k": reported(self.k), "limit": side.reported, "unit": self.of.symbol}
        code = "quality-below-k" if quality.is_low else "within"
        return Reason(code, text, parameters, f"{self.pointer}/k", *readings.all_pointers)

    def _without_spread(self, mean: Known, side: Side, readings: Readings) -> Finding:
        """All values are equal: then the limits themselves decide."""
        standing = settled(mean, side.standing)
        passes, at = standing.is_met, readings.all_pointers
        text = f"All values of {self.of.words} are equal, so their mean decides: {standing.shown} {standing.where}."
        code = "within" if passes else "quality-below-k"
        reason = Reason(code, text, beside(standing, side), side.pointer, at.first, at.total)
        return self.finding(Outcome.PASS if passes else Outcome.FAIL, [reason], self.resolved)


def _quality(margin: Known, variance: Known) -> KnownExact:
    """The mean's margin divided by the standard deviation."""
    sign = -1 if settled(margin, lambda number: number < 0) else 1
    return rooted(combined(lambda apart, square: apart**2 / square, margin, variance), sign)


def flaws(document: Variables, surroundings: Surroundings, at: str) -> Iterator[Flaw]:
    """What is wrong with it."""
    of = surroundings.characteristic(document.of)
    yield from measured_flaws(document, of, at)
    yield from all_limits_flaws(document.limits, of, surroundings, f"{at}/limits")
    yield from decision_not_here(document.decision, "variables", at)
    yield from number_flaws(document.k, f"{at}/k")
    yield from sample_of_two_flaws(document, of, at)
    if not isinstance(document.rounding, UnsetType):
        text = "A quality statistic is compared as it is. Leave `rounding` out, or put the limit on the mean by a `mean`."
        yield Flaw("rounding-not-here", text, f"{at}/rounding")


def compiled(document: Variables, surroundings: Surroundings, pointer: str) -> VariablesRule:
    """Ready to judge; the document has no flaws."""
    parts, k = limited_parts(document, surroundings, pointer), exact(document.k)
    resolved = replace(parts["bounds"].resolved(parts["of"].symbol), k=reported(k))
    return VariablesRule(k=k, resolved=resolved, least=2, **parts)
