"""Expanded measurement uncertainties, as a grade or a series states them."""

from collections.abc import Iterator, Sequence
from fractions import Fraction

from msgspec import UNSET, Struct

from service.engine.documents import Flaw, Uncertainty, neither_or_both, number_flaws
from service.engine.numbers import exact

HUNDRED = 100


class ExpandedUncertainty(Struct, frozen=True):
    """An expanded uncertainty, absolute + share × |value| in the characteristic's unit, with its coverage factor."""

    absolute: Fraction
    share: Fraction
    coverage_factor: Fraction

    def standard(self, value: float) -> float:
        """The standard uncertainty of a value: the expanded one divided by the coverage factor (JCGM 100:2008, 6.2)."""
        # A float is enough: it is reported as a probability and never compared with a limit.
        return float(self.absolute + self.share * abs(Fraction(value))) / float(self.coverage_factor)


def expanded_of(uncertainty: Uncertainty, factor: Fraction) -> ExpandedUncertainty:
    """The uncertainty in a characteristic's unit; `factor` converts from the unit in which it is stated."""
    absolute = exact(uncertainty.expanded) * factor if uncertainty.expanded is not UNSET else Fraction(0)
    share = exact(uncertainty.percent) / HUNDRED if uncertainty.percent is not UNSET else Fraction(0)
    return ExpandedUncertainty(absolute, share, exact(uncertainty.coverage_factor))


def greatest_of(uncertainties: Sequence[ExpandedUncertainty], limit: Fraction) -> ExpandedUncertainty:
    """The uncertainty that is greatest at a value on the limit."""
    # For a mean too it is not divided by √n: the systematic part of an uncertainty does not average out.
    return max(uncertainties, key=lambda stated: stated.absolute + stated.share * abs(limit))


def uncertainty_flaws(uncertainty: Uncertainty, at: str) -> Iterator[Flaw]:
    """Flaws of an uncertainty that is not stated in exactly one way, out of range, or 100 % of the value or more."""
    if (uncertainty.expanded is UNSET) == (uncertainty.percent is UNSET):
        text = neither_or_both("expanded", "percent", is_both=uncertainty.percent is not UNSET)
        yield Flaw("expanded-or-percent", text, at)
        return
    for name in ("expanded", "percent", "coverage_factor"):
        number = getattr(uncertainty, name)
        if number is not UNSET:
            yield from number_flaws(number, f"{at}/{name}")
    if uncertainty.percent is not UNSET and uncertainty.percent >= HUNDRED:
        text = "An uncertainty of 100 % or more of the value leaves the value unknown. Correct it."
        yield Flaw("uncertainty-too-great", text, f"{at}/percent")
