"""The kind `declared`: the declared value is one of `one_of`, or a number within limits."""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Annotated

from msgspec import UNSET, Meta, UnsetType

from service.engine.characteristics import EXCLUDED, NOWHERE, Bounds, Limits, Pointers, bounds_of
from service.engine.documents import (
    Declarable,
    Evidence,
    Finding,
    Flaw,
    MeasuredValue,
    Outcome,
    Reason,
    ResolvedLimits,
    capitalised,
    cut,
    listed,
    neither_or_both,
    number_flaws,
    quoted,
    written,
)
from service.engine.lot import Lot
from service.engine.numbers import exact, reported
from service.engine.requirements.documents import OnCharacteristic
from service.engine.requirements.grade_context import GradeContext
from service.engine.requirements.limits.flaws import fixed_limits_flaws
from service.engine.requirements.limits.guarding import decision_not_here
from service.engine.requirements.rules import CharacteristicRule, characteristic_fields
from service.engine.requirements.wording import limit_reason


class Declared(OnCharacteristic, frozen=True, kw_only=True, tag="declared"):
    """The declared value is one of these texts, numbers or booleans, or a number within limits; either, not both."""

    one_of: Annotated[list[Declarable], Meta(min_length=1, max_length=100)] | UnsetType = UNSET
    limits: Limits | UnsetType = UNSET
    """In the characteristic's unit."""


class DeclaredRule(CharacteristicRule, frozen=True, kw_only=True):
    """A compiled requirement of the kind `declared`."""

    one_of: Sequence[Declarable]
    """Empty where there are limits."""
    bounds: Bounds | None
    resolved: ResolvedLimits | UnsetType

    def flaws_in(self, evidence: Evidence) -> Iterator[Flaw]:
        """Declared values that cannot be compared with limits: no number, a negative one, part of a count."""
        if not self.bounds:
            return
        for number, each in enumerate(evidence.declared or ()):
            if each.characteristic == self.of.name:
                yield from self._value_flaws(each.value, f"/declared/{number}/value")

    def judge(self, lot: Lot) -> Finding:
        """Pass, fail, or undecided where nothing is declared."""
        found = lot.declared.get(self.of.name)
        if found is None:
            return self._not_declared()
        number, value = found
        at = Pointers([f"/declared/{number}"], 1)
        if self.bounds and not isinstance(value, str):
            return self._within(self.bounds, exact(value), at)
        return self._one_of(value, at)

    def _not_declared(self) -> Finding:
        """The undecided finding where the evidence does not declare the characteristic."""
        # Not listed as `missing`, which is for samples: a lot waits for readings, never for a declaration.
        if self.bounds:
            sides = " and ".join(f"{side.words}{EXCLUDED[side.name] if side.excludes else ''}" for side in self.bounds.sides)
            text = f"{capitalised(self.of.words)} is not entered; it must keep {sides}."
            reason = Reason("not-declared", text, {}, f"{self.pointer}/limits", NOWHERE.first, NOWHERE.total)
            return self.finding(Outcome.UNDECIDED, [reason], self.resolved)
        choices = listed(shown(each) for each in self.one_of)
        text = f"{capitalised(self.of.words)} is not entered; it must be {choices}."
        return self._finding(Outcome.UNDECIDED, "not-declared", text, {"one_of": self.one_of}, NOWHERE)

    def _within(self, bounds: Bounds, value: Fraction, at: Pointers) -> Finding:
        """The finding on a declared number, by the limits."""
        side = bounds.nearest(value)
        position = side.standing(value)
        reason = limit_reason(f"The declared {self.of.words}, ", position, side, at)
        outcome = Outcome.PASS if position.is_met else Outcome.FAIL
        measured = MeasuredValue(statistic="declared", value=reported(value), unit=self.of.symbol)
        return self.finding(outcome, [reason], self.resolved, measured, position.distance)

    def _one_of(self, value: Declarable, at: Pointers) -> Finding:
        """The finding on a declared value, by the list of those that may be declared."""
        choices = listed(shown(each) for each in self.one_of)
        parameters: dict[str, object] = {"value": value, "one_of": self.one_of}
        if any(are_equal(value, each) for each in self.one_of):
            may = "as it must be" if len(self.one_of) == 1 else f"and may be {choices}"
            text = f"{capitalised(self.of.words)} is entered as `{shown(value)}`, {may}."
            return self._finding(Outcome.PASS, "declared-agrees", text, parameters, at)
        text = f"{capitalised(self.of.words)} is entered as `{shown(value)}`; it must be {choices}."
        return self._finding(Outcome.FAIL, "declared-differs", text, parameters, at)

    def _finding(self, outcome: Outcome, code: str, text: str, parameters: dict[str, object], at: Pointers) -> Finding:
        return self.finding(outcome, [Reason(code, text, parameters, f"{self.pointer}/one_of", at.first, at.total)])

    def _value_flaws(self, value: Declarable, at: str) -> Iterator[Flaw]:
        """The flaws of a declared value that has limits.

        A number outside the range of numbers is reported when the evidence is prepared, for every declaration.
        """
        rule = f"{self.pointer}/limits"
        # A bool is an int to Python, and no number in a JSON document.
        if isinstance(value, bool) or not isinstance(value, float | int):
            text = f"{capitalised(self.of.words)} has limits, and {quoted(shown(value))} is not a number. Enter a number."
            yield Flaw("declared-not-a-number", text, at, rule)
        elif value < 0 and self.of.quantity != "ratio":
            text = f"{capitalised(self.of.words)} is never negative, and {written(value)} is. Correct the number."
            yield Flaw("negative", text, at, rule)
        elif self.of.quantity == "count" and not float(value).is_integer():
            text = f"{capitalised(self.of.words)} is a count, and {written(value)} is not a whole number. Correct it."
            yield Flaw("not-whole", text, at, rule)


def are_equal(one: Declarable, other: Declarable) -> bool:
    """Equality as in JSON: 1 and 1.0 are equal; 1 and true, which are equal in Python, are not."""
    return isinstance(one, bool) == isinstance(other, bool) and one == other


def shown(value: Declarable) -> str:
    """The value as the JSON document writes it; a long text is cut."""
    if isinstance(value, bool):
        return "true" if value else "false"
    # Adding 0 turns −0 into 0 and changes nothing else.
    return written(value + 0.0) if isinstance(value, float | int) else cut(value)


def flaws(document: Declared, context: GradeContext, at: str) -> Iterator[Flaw]:
    """The flaws of the document; `at` is its place in the specification."""
    # A declared value has no uncertainty of measurement, so no decision on it can be guarded.
    yield from decision_not_here(document.decision, "declared", at)
    if (document.one_of is UNSET) == (document.limits is UNSET):
        text = neither_or_both("one_of", "limits", is_both=document.limits is not UNSET)
        yield Flaw("one-of-or-limits", text, at)
    for number, value in enumerate(document.one_of or ()):
        if isinstance(value, float | int):
            yield from number_flaws(value, f"{at}/one_of/{number}")
    if isinstance(document.limits, UnsetType):
        return
    of = context.characteristic(document.of)
    if of.quantity == "category":
        text = f"`{of.name}` is a category, which has no limits. List what may be declared in `one_of`."
        yield Flaw("limits-of-category", text, f"{at}/limits")
    yield from fixed_limits_flaws(document.limits, of, f"{at}/limits")


def compiled(document: Declared, context: GradeContext, pointer: str) -> DeclaredRule:
    """The compiled requirement; `document` has no flaws, and `pointer` is its place in the specification."""
    of = context.characteristic(document.of)
    fields = characteristic_fields(document, of, pointer)
    if isinstance(document.limits, UnsetType):
        return DeclaredRule(one_of=document.one_of or (), bounds=None, resolved=UNSET, **fields)
    bounds = bounds_of(document.limits, of.symbol, f"{pointer}/limits")
    ready = bounds.of_whole_values() if of.quantity == "count" else bounds
    return DeclaredRule(one_of=(), bounds=ready, resolved=bounds.resolved(of.symbol), **fields)
