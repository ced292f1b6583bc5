"""Expanded uncertainties of measured values, as a grade or a series states them."""

from collections.abc import Iterator, Sequence
from fractions import Fraction

from msgspec import UNSET, Struct

from service.engine.documents import Flaw, Uncertainty, number_flaws
from service.engine.numbers import exact

HUNDRED = 100


class ExpandedUncertainty(Struct, frozen=True):
    """An expanded uncertainty: a number in the characteristic's unit or a share of the value, and its coverage factor."""

    absolute: Fraction
    share: Fraction
    coverage_factor: Fraction

    def standard(self, value: float) -> float:
        """The standard uncertainty of a value; reported, never compared."""
        return float(self.absolute + self.share * abs(Fraction(value))) / float(self.coverage_factor)


def expanded_of(uncertainty: Uncertainty, factor: Fraction) -> ExpandedUncertainty:
    """The uncertainty in a characteristic's unit; `factor` brings the unit in which it is stated to that."""
    absolute = exact(uncertainty.expanded) * factor if uncertainty.expanded is not UNSET else Fraction(0)
    share = exact(uncertainty.percent) / HUNDRED if uncertainty.percent is not UNSET else Fraction(0)
    return ExpandedUncertainty(absolute, share, exact(uncertainty.coverage_factor))


def greatest_of(all_of_them: Sequence[ExpandedUncertainty], limit: Fraction) -> ExpandedUncertainty:
    """Of several series' uncertainties the one that is greatest beside a limit."""
    return max(all_of_them, key=lambda each: each.absolute + each.share * abs(limit))


def uncertainty_flaws(uncertainty: Uncertainty, at: str) -> Iterator[Flaw]:
    """One of the two ways to state it, in range; a share of the value below 100 %."""
    if (uncertainty.expanded is UNSET) == (uncertainty.percent is UNSET):
        text = "State the uncertainty by `expanded`, in the unit, or by `percent` of the value: one of the two."
        yield Flaw("expanded-or-percent", text, at)
        return
    for name in ("expanded", "percent", "coverage_factor"):
        number = getattr(uncertainty, name)
        if number is not UNSET:
            yield from number_flaws(number, f"{at}/{name}")
    if uncertainty.percent is not UNSET and uncertainty.percent >= HUNDRED:
        text = "An uncertainty of 100 % or more of the value tells nothing of it. Correct it."
        yield Flaw("uncertainty-too-great", text, f"{at}/percent")
