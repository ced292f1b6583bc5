"""The kind `rate`: faults per inspected length or mass, such as knots per 1000 m."""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Annotated

from msgspec import UNSET, Meta, UnsetType

from service.engine.characteristics import Pointers
from service.engine.documents import (
    MOST_POINTERS,
    Amount,
    Finding,
    Flaw,
    MeasuredValue,
    Name,
    Outcome,
    Quantity,
    Reason,
    ResolvedLimits,
    listed,
    number_flaws,
)
from service.engine.lot import CountsNeeded, Lot, Tally
from service.engine.numbers import (
    Figures,
    amount_text,
    amount_unit_flaws,
    exact,
    in_base_unit,
    quantity_of,
    reported,
)
from service.engine.requirements.documents import NotNegative, Requirement
from service.engine.requirements.grade_context import GradeContext
from service.engine.requirements.inspection_counts import name_flaws
from service.engine.requirements.rules import Rule, common_fields
from service.engine.requirements.wording import ComparedWithMost, compared_with_most, most_figures


class Rate(Requirement, frozen=True, kw_only=True, tag="rate"):
    """The occurrences of these faults per amount of inspected length or mass are not above `at_most`."""

    faults: Annotated[list[Name], Meta(min_length=1, max_length=100)]
    per: Amount
    at_most: NotNegative
    at_least_looked_at: Amount | UnsetType = UNSET
    """The least amount to inspect; any amount is enough where left out."""


class RateRule(Rule, frozen=True, kw_only=True):
    """A compiled requirement of the kind `rate`."""

    faults: Sequence[str]
    per: Fraction
    """In metres or kilograms; `at_least` is in the same unit."""
    quantity: Quantity
    at_most: Fraction
    figures: Figures
    at_least: Fraction | None
    at_least_text: str
    resolved: ResolvedLimits

    @property
    def fault_names(self) -> Sequence[str]:
        """The faults that it counts."""
        return self.faults

    @property
    def asked(self) -> Sequence[CountsNeeded]:
        """The counts that it needs: the occurrences of each fault, and on what amount."""
        needs = ("occurrences", "by_package")
        return [CountsNeeded("fault", fault, needs, f"{self.pointer}/per", quantity=self.quantity) for fault in self.faults]

    def judge(self, lot: Lot) -> Finding:
        """Pass, fail, or undecided while a fault is not counted or too little was inspected."""
        # Unlike a count, a rate can still fall while more is inspected, so no lot fails before the least amount is reached.
        tallies_by_fault = [(fault, lot.counts.on_amount(fault, self.quantity)) for fault in self.faults]
        tallies = [tally for _, tally in tallies_by_fault if tally]
        if uncounted := [fault for fault, tally in tallies_by_fault if tally is None]:
            return self._undecided(self._not_counted(uncounted, tallies))
        if self.at_least is not None and any(_inspected_amount(tally) < self.at_least for tally in tallies):
            return self._undecided(self._too_little_inspected(tallies))
        # Each fault by the amount inspected for it: knots on 2400 m and slubs on 1000 m of these are two rates, which add up.
        rate = sum(((tally.occurrences or 0) * self.per / _inspected_amount(tally) for tally in tallies), Fraction(0))
        compared = compared_with_most(rate, self.figures)
        outcome = Outcome.PASS if compared.margin >= 0 else Outcome.FAIL
        measured = MeasuredValue(statistic="rate", value=compared.value, unit=str(self.resolved.unit))
        return self.finding(outcome, [self._reason(compared, tallies)], self.resolved, measured, compared.margin)

    def _undecided(self, reason: Reason) -> Finding:
        return self.finding(Outcome.UNDECIDED, [reason], self.resolved)

    def _reason(self, compared: ComparedWithMost, tallies: Sequence[Tally]) -> Reason:
        occurrences = sum(tally.occurrences or 0 for tally in tallies)
        text = f"The rate of {listed(self.faults, 'and')}, {compared.shown}, {compared.where}."
        limit, by = reported(self.at_most), abs(compared.margin)
        parameters = {"value": compared.value, "limit": limit, "unit": self.resolved.unit, "by": by, "occurrences": occurrences}
        return Reason(compared.code, text, parameters, f"{self.pointer}/at_most", *_pointers(tallies))

    def _not_counted(self, uncounted: Sequence[str], tallies: Sequence[Tally]) -> Reason:
        """The reason where faults were not counted: the lot may have them."""
        text = (
            f"Not counted: fault{'s' if len(uncounted) > 1 else ''} {listed(uncounted, 'and')}. "
            "Send a count of each with the amount `looked_at`; 0 where nothing was found."
        )
        return Reason(
            "not-all-counted", text, {"classes": [], "faults": uncounted}, f"{self.pointer}/faults", *_pointers(tallies)
        )

    def _too_little_inspected(self, tallies: Sequence[Tally]) -> Reason:
        """The reason where less was inspected than the grade asks for."""
        least_tally = min(tallies, key=_inspected_amount)
        least = _inspected_amount(least_tally)
        unit = "m" if self.quantity == "length" else "kg"
        text = f"{least_tally.sent} was inspected, and the grade asks for at least {self.at_least_text}. Inspect more."
        parameters = {"looked_at": reported(least), "unit": unit}
        return Reason("too-little-looked-at", text, parameters, f"{self.pointer}/at_least_looked_at", *_pointers(tallies))


def _inspected_amount(tally: Tally) -> Fraction:
    """The amount that was inspected, in metres or kilograms; the tally is one of a fault on an amount."""
    assert tally.looked_at is not None
    return tally.looked_at


def _pointers(tallies: Sequence[Tally]) -> Pointers:
    """Pointers to the counts, in the order of the document."""
    numbers = sorted(tally.number for tally in tallies)
    return Pointers([f"/counts/{number}" for number in numbers[:MOST_POINTERS]], len(numbers))


def flaws(document: Rate, context: GradeContext, at: str) -> Iterator[Flaw]:
    """The flaws of the document; `at` is its place in the specification."""
    yield from name_flaws(document.faults, f"{at}/faults")
    yield from amount_unit_flaws(document.per, ("length", "mass"), "a rate is per length or mass", f"{at}/per")
    yield from number_flaws(document.per.value, f"{at}/per/value")
    yield from number_flaws(document.at_most, f"{at}/at_most")
    least, quantity = document.at_least_looked_at, quantity_of(document.per)
    if not isinstance(least, UnsetType):
        quantities: Sequence[Quantity] = [quantity] if quantity in ("length", "mass") else ["length", "mass"]
        what = f"this rate is per {' or '.join(quantities)}"
        yield from amount_unit_flaws(least, quantities, what, f"{at}/at_least_looked_at")
        yield from number_flaws(least.value, f"{at}/at_least_looked_at/value")


def compiled(document: Rate, context: GradeContext, pointer: str) -> RateRule:
    """The compiled requirement; `document` has no flaws, and `pointer` is its place in the specification."""
    least, at_most, quantity = document.at_least_looked_at, exact(document.at_most), quantity_of(document.per)
    assert quantity
    per = amount_text(document.per)
    return RateRule(
        faults=document.faults,
        per=in_base_unit(document.per),
        quantity=quantity,
        at_most=at_most,
        figures=most_figures(at_most, f"per {per}"),
        at_least=None if isinstance(least, UnsetType) else in_base_unit(least),
        at_least_text="" if isinstance(least, UnsetType) else amount_text(least),
        resolved=ResolvedLimits(at_most=reported(at_most), unit=f"1/{per}"),
        **common_fields(document, pointer, context.package),
    )
