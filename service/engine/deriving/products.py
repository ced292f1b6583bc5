"""The kind `product`: two measured characteristics multiplied, as net mass times runnage gives length without unwinding."""

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from typing import Annotated

from msgspec import UNSET, Meta, Struct, UnsetType

from service.engine.characteristics import CompiledCharacteristic, Partners, Readings
from service.engine.deriving.derivation import Derivable, Side, Subject
from service.engine.deriving.pairing import pairs_of, partner_flaws, partners_of, readings_of_both
from service.engine.documents import Flaw, Name, Quantity, in_words, listed
from service.engine.numbers import Enclosure, Unit, exactly, product_of, times, units_of

PRODUCTS: Mapping[frozenset[Quantity], Quantity] = {
    frozenset(("mass", "length_per_mass")): "length",
    frozenset(("length", "mass_per_length")): "mass",
    frozenset(("force_per_mass_per_length", "mass_per_length")): "force",
}
"""The quantity of a product by its two factors; a factor that is a ratio changes no quantity. No other product is accepted."""

# The exact mean of 5,000 reciprocals has at most a hundred thousand digits and takes half a second; that of 60,000 took a
# minute.
MOST_TURNED_ROUND = 5000
"""The most inverted readings whose exact mean may multiply each reading."""


class Product(Derivable, frozen=True, kw_only=True, tag="product"):
    """The product `of` two characteristics, reading by reading; or of `each` reading of one and the `mean_of` another."""

    of: Annotated[list[Name], Meta(min_length=2, max_length=2)] | UnsetType = UNSET
    each: Name | UnsetType = UNSET
    mean_of: Name | UnsetType = UNSET


class Multiplied(Struct, frozen=True):
    """The compiled product of two characteristics: one × other × factor, in the unit of the derived characteristic."""

    one: CompiledCharacteristic
    other: CompiledCharacteristic
    factor: Fraction
    by_mean: bool
    """True where the mean of `other` multiplies each reading of `one`."""

    @property
    def sources(self) -> tuple[CompiledCharacteristic, ...]:
        """The two factors."""
        return self.one, self.other

    @property
    def averaged(self) -> tuple[CompiledCharacteristic, ...]:
        """The second factor, where its mean is used."""
        return (self.other,) if self.by_mean else ()

    @property
    def of_means(self) -> bool:
        """False: each reading gives a value."""
        return False

    def flaws(self, derived: CompiledCharacteristic, by_characteristic: Mapping[str, Readings]) -> Iterator[Flaw]:
        """Flaws of readings without a partner, or of a mean that takes too long; none while a side is absent."""
        sides = readings_of_both(self.sources, by_characteristic)
        if sides and not self.by_mean:
            yield from partner_flaws(derived, *sides)
        elif sides and sides[1].count > MOST_TURNED_ROUND and isinstance(sides[1].column.mean(), Enclosure):
            symbols = [unit.symbol for unit in units_of(self.other.quantity)]
            text = (
                f"There are {sides[1].count} readings of {self.other.words} in a unit of the reciprocal quantity, and the "
                f"exact mean of more than {MOST_TURNED_ROUND} such readings takes too long. Send them in {listed(symbols)}."
            )
            place = sides[1].place(0)[0]
            yield Flaw("too-many-turned-round", text, f"/series/{place}/values", f"{derived.pointer}/derived")

    def readings(self, derived: CompiledCharacteristic, by_characteristic: Mapping[str, Readings]) -> Readings | None:
        """A value for each reading of the first factor, of the same package; None while one side is absent."""
        sides = readings_of_both(self.sources, by_characteristic)
        if sides is None:
            return None
        one, other = sides
        if self.by_mean:
            # The mean is needed in full, not enclosed: each value has to be an exact number.
            column = times(one.column, exactly(other.column.mean()) * self.factor)
            return one.derive(column, averaged=(other,))
        pairs = pairs_of(one, other)
        if pairs is None:
            return None
        one, other = pairs
        partners = partners_of(one, other)
        column = product_of(one.column, other.column, partners, self.factor)
        return one.derive(column, Partners(other, partners))


def sides(document: Product) -> Sequence[Side]:
    """The characteristics that the document names."""
    found = [Side(f"of/{number}", name) for number, name in enumerate(document.of or ())]
    for member, name in (("each", document.each), ("mean_of", document.mean_of)):
        if not isinstance(name, UnsetType):
            found.append(Side(member, name))
    return found


def flaws(document: Product, derived: Subject, quantities: Sequence[Quantity | None], at: str) -> Iterator[Flaw]:
    """Flaws of a product that does not name two factors in one of its two ways, or is of another quantity than its name."""
    if tuple(side.member for side in sides(document)) not in (("of/0", "of/1"), ("each", "mean_of")):
        text = (
            "A product is `of` two characteristics, or of `each` reading of one and the `mean_of` another. "
            "Give one of these pairs."
        )
        yield Flaw("product-of-two", text, at)
        return
    one, other = quantities
    if not one or not other:
        return
    of_sides = product_quantity(one, other)
    product = f"A {in_words(one)} times a {in_words(other)}"
    if of_sides is None:
        text = f"{product} is not a known product. Choose one of those in the guide."
        yield Flaw("product-not-known", text, at)
    elif derived.quantity and derived.quantity != of_sides:
        is_a = f"{product} is a {in_words(of_sides)}, and `{derived.name}` is a {in_words(derived.quantity)}"
        yield Flaw("product-of-other-quantity", f"{is_a}. Change the two characteristics or the name.", at)


def product_quantity(one: Quantity, other: Quantity) -> Quantity | None:
    """The quantity of the product of two quantities; None where it is none of those known here."""
    if "ratio" in (one, other):
        return other if one == "ratio" else one
    return PRODUCTS.get(frozenset((one, other)))


def compiled(document: Product, sources: Sequence[CompiledCharacteristic], unit: Unit) -> Multiplied | None:
    """The compiled calculation; None where a side has no unit."""
    units = [source.unit for source in sources if source.unit]
    if len(units) != 2:  # the two factors of a product
        return None
    # Into SI base units and out again, in one exact factor.
    factor = units[0].factor * units[1].factor / unit.factor
    return Multiplied(sources[0], sources[1], factor, not isinstance(document.mean_of, UnsetType))
