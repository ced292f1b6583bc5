"""The kinds `ratio`, a quotient reading by reading, and `ratio_of_means`, the quotient of two pooled means."""

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from msgspec import Struct

from service.engine.characteristics import CompiledCharacteristic, Partners, Readings, pointer
from service.engine.deriving.derivation import Derivable, Side, Subject
from service.engine.deriving.pairing import pairs_of, partner_flaws, partners_of, readings_of_both
from service.engine.documents import Flaw, Name, Quantity, in_words
from service.engine.numbers import ZERO, Known, Unit, answered, combined, quotient_of, side_of

QUOTIENTS: Mapping[tuple[Quantity, Quantity], Quantity] = {
    ("force", "mass_per_length"): "force_per_mass_per_length",
    ("length", "mass"): "length_per_mass",
    ("mass", "length"): "mass_per_length",
}
"""The quantity of a quotient by numerator and denominator; two of the same quantity give a ratio. No other is accepted."""


class Ratio(Derivable, frozen=True, kw_only=True, tag="ratio"):
    """Numerator divided by denominator, reading by reading."""

    numerator: Name
    denominator: Name


class RatioOfMeans(Derivable, frozen=True, kw_only=True, tag="ratio_of_means"):
    """The mean of all readings of the numerator divided by that of all readings of the denominator."""

    numerator: Name
    denominator: Name


class Quotient(Struct, frozen=True):
    """The compiled quotient of two characteristics: numerator / denominator × factor, in the derived one's unit."""

    numerator: CompiledCharacteristic
    denominator: CompiledCharacteristic
    factor: Fraction
    of_means: bool
    """True for the quotient of the two means, which is one number for the lot."""

    @property
    def sources(self) -> tuple[CompiledCharacteristic, ...]:
        """The numerator and the denominator."""
        return self.numerator, self.denominator

    @property
    def averaged(self) -> tuple[CompiledCharacteristic, ...]:
        """Empty: a ratio of means has no readings into which a mean could enter."""
        return ()

    def flaws(self, derived: CompiledCharacteristic, by_characteristic: Mapping[str, Readings]) -> Iterator[Flaw]:
        """Flaws of readings without a partner and of denominators of 0; none while one side is absent."""
        sides = readings_of_both(self.sources, by_characteristic)
        if sides is None:
            return
        if self.of_means:
            yield from _zero_mean(derived, sides[1])
        else:
            yield from partner_flaws(derived, *sides)
            if pairs := pairs_of(*sides):
                yield from _zeros(derived, pairs[1])

    def readings(self, derived: CompiledCharacteristic, by_characteristic: Mapping[str, Readings]) -> Readings | None:
        """The quotients, package by package in the order sent; None for a ratio of means, or while a side is absent."""
        sides = readings_of_both(self.sources, by_characteristic)
        pairs = None if sides is None or self.of_means else pairs_of(*sides)
        if pairs is None:
            return None
        numerator, denominator = pairs
        partners = partners_of(numerator, denominator)
        column = quotient_of(numerator.column, denominator.column, partners, self.factor)
        return numerator.derive(column, Partners(denominator, partners))

    def of_pooled(self, numerator: Readings, denominator: Readings) -> Known:
        """The quotient of the two means, with the readings of each side pooled."""
        # `combined` may be used, as a quotient is monotonic in each argument where these keep their signs.
        means = numerator.column.mean(), denominator.column.mean()
        return combined(lambda one, other: one / other * self.factor, *means)


def sides(document: Ratio | RatioOfMeans) -> Sequence[Side]:
    """The numerator and the denominator that the document names."""
    return Side("numerator", document.numerator), Side("denominator", document.denominator)


def flaws(document: Ratio | RatioOfMeans, derived: Subject, quantities: Sequence[Quantity | None], at: str) -> Iterator[Flaw]:
    """Flaws of a quotient that is of no known quantity, or of another one than the derived characteristic."""
    numerator, denominator = quantities
    if not numerator or not denominator:
        return
    of_sides = "ratio" if numerator == denominator else QUOTIENTS.get((numerator, denominator))
    quotient = f"A {in_words(numerator)} divided by a {in_words(denominator)}"
    if of_sides is None:
        text = f"{quotient} is not a known quotient. Choose one of those in the guide."
        yield Flaw("quotient-not-known", text, at)
    elif derived.quantity and derived.quantity != of_sides:
        is_a = f"{quotient} is a {in_words(of_sides)}, and `{derived.name}` is a {in_words(derived.quantity)}"
        yield Flaw("quotient-of-other-quantity", f"{is_a}. Change the two characteristics or the name.", at)


def compiled(document: Ratio | RatioOfMeans, sources: Sequence[CompiledCharacteristic], unit: Unit) -> Quotient | None:
    """The compiled calculation; None where a side has no unit."""
    numerator, denominator = sources
    if not (numerator.unit and denominator.unit):
        return None
    factor = numerator.unit.factor / denominator.unit.factor / unit.factor
    return Quotient(numerator, denominator, factor, isinstance(document, RatioOfMeans))


def _zeros(derived: CompiledCharacteristic, denominator: Readings) -> Iterator[Flaw]:
    """A flaw for every denominator of 0."""
    # The extremes rule out nearly every column, so that its values need not be walked through.
    low, high = denominator.column.extremes()
    if low > 0 or high < 0:
        return
    for number, value in enumerate(denominator.column.exact_values()):
        if value == 0:
            yield _division_by_zero(derived, denominator, number, "This reading")


def _zero_mean(derived: CompiledCharacteristic, denominator: Readings) -> Iterator[Flaw]:
    """The flaw of a mean denominator of 0."""
    if answered(denominator.column.mean(), lambda mean: side_of(mean, ZERO)) == 0:
        yield _division_by_zero(derived, denominator, 0, "The mean of these readings")


def _division_by_zero(derived: CompiledCharacteristic, denominator: Readings, number: int, what: str) -> Flaw:
    text = (
        f"{what} of {derived.sides[1].words} is 0, and {derived.words} is calculated by dividing by it. "
        "Correct it, or remove it."
    )
    return Flaw("division-by-zero", text, pointer(denominator.place(number)), f"{derived.pointer}/derived")
