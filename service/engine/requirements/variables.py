"""The kind `variables`: acceptance by variables, with the k that the grade gives.

Source: MIL-STD-414, section B, Form 1: accept where (mean − L)/s ≥ k, s with n − 1; equality accepts.
"""

from collections.abc import Iterator
from fractions import Fraction

from msgspec import UNSET, UnsetType
from msgspec.structs import replace

from service.engine.bounds import Bounds, Side, bounds_of, limits_flaws, number_flaws
from service.engine.characteristics import CompiledCharacteristic
from service.engine.flaws import Flaw
from service.engine.limits import Limits
from service.engine.lots import Lot, Readings
from service.engine.numerals import (
    Exact,
    decimals_of,
    difference,
    exact,
    figures_beside,
    is_below,
    nearest_double,
    plain,
    reported,
    root_of,
    side_of,
)
from service.engine.requirements.documents import Measured, NotNegative
from service.engine.requirements.measuring import MeasuredRule, measured_flaws, measured_parts, sample_of_two_flaws
from service.engine.requirements.wording import beside
from service.engine.verdict import Finding, Outcome, Reason


class Variables(Measured, frozen=True, kw_only=True, tag="variables"):
    """(mean − L)/s ≥ k and (U − mean)/s ≥ k; with two limits each by k."""

    limits: Limits
    k: NotNegative


class VariablesRule(MeasuredRule, frozen=True, kw_only=True):
    """The same, ready to judge."""

    bounds: Bounds
    k: Fraction

    def judge(self, lot: Lot) -> Finding:
        """Pass, fail, or undecided while the sample is short."""
        lack, readings = self.lack(lot), lot.readings(self.of)
        if lack or readings is None:
            assert lack  # noqa: S101  a sample without readings is short
            return self.undecided(lack)
        column = readings.values(self.over)
        mean, variance = column.mean(), column.variance()
        side = self.bounds.nearest(mean)
        if variance == 0:
            return self._without_spread(mean, side, readings)
        quality = root_of(side.margin(mean) ** 2 / variance, -1 if side.margin(mean) < 0 else 1)
        outcome = Outcome.FAIL if is_below(quality, self.k) else Outcome.PASS
        value = nearest_double(quality)
        measured = self.measured("quality", value, value, [readings], "1")
        return self.finding(
            outcome, [self._reason(quality, side, readings)], self.resolved, measured, difference(quality, self.k)
        )

    def _reason(self, quality: Exact, side: Side, readings: Readings) -> Reason:
        """The quality statistic beside k."""
        shown, by = figures_beside(quality, self.k, decimals_of(self.k), side_of(quality, self.k))
        fails = is_below(quality, self.k)
        where = "exactly" if quality == self.k else f"{by} below" if fails else f"{by} above"
        text = f"The quality statistic of {self.of.words} towards {side.words}, {shown}, is {where} the k of {plain(self.k)}."
        parameters = {"value": nearest_double(quality), "k": reported(self.k), "limit": side.reported, "unit": self.of.symbol}
        at = readings.all_pointers()
        return Reason("quality-below-k" if fails else "within", text, parameters, f"{self.pointer}/k", at.first, at.total)

    def _without_spread(self, mean: Fraction, side: Side, readings: Readings) -> Finding:
        """All values are equal: then the limits themselves decide."""
        standing = side.standing(mean)
        passes, at = standing.is_met, readings.all_pointers()
        text = f"All values of {self.of.words} are equal, so their mean decides: {standing.shown} {standing.where}."
        code = "within" if passes else "quality-below-k"
        reason = Reason(code, text, beside(standing, side), side.pointer, at.first, at.total)
        return self.finding(Outcome.PASS if passes else Outcome.FAIL, [reason], self.resolved)


def flaws(document: Variables, of: CompiledCharacteristic, at: str) -> Iterator[Flaw]:
    """What is wrong with it."""
    yield from measured_flaws(document, of, at)
    yield from limits_flaws(document.limits, of, f"{at}/limits")
    yield from number_flaws(document.k, f"{at}/k")
    yield from sample_of_two_flaws(document, of, at)
    if not isinstance(document.rounding, UnsetType):
        text = "A quality statistic is compared as it is. Leave `rounding` out, or put the limit on the mean by a `mean`."
        yield Flaw("rounding-not-here", text, f"{at}/rounding")


def compiled(document: Variables, of: CompiledCharacteristic, pointer: str) -> VariablesRule:
    """Ready to judge; the document has no flaws."""
    bounds, k = bounds_of(document.limits, of.symbol, f"{pointer}/limits"), exact(document.k)
    resolved = replace(bounds.resolved(of.symbol), k=reported(k))
    parts = measured_parts(replace(document, rounding=UNSET), of, pointer)
    return VariablesRule(bounds=bounds, k=k, resolved=resolved, least=2, **parts)
