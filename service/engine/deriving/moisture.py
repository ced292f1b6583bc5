"""What twine weighs, and how fine it is, with the regain that is agreed on: `commercial_mass`, `at_standard_regain`.

Regain R is the mass of water by the dry mass, moisture content M by the mass as it is. The dry mass is so the mass divided by
1 + R, or times 1 − M, and with the agreed regain r it is the dry mass times 1 + r. Linear density goes with the mass, runnage
against it. An agreed regain is an arbitrary commercial figure that belongs to the grade; it is never derived from a climate.
Source: ASTM D1909-13, section 4, in substance; M = R/(1 + R) by the two definitions.
"""

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from typing import Annotated, Literal

from msgspec import UNSET, Meta, Struct, UnsetType, field

from service.engine.characteristics import CompiledCharacteristic, Partners, Readings, pointer
from service.engine.deriving.derivation import Derivable, Side, Subject
from service.engine.deriving.pairing import pairs_of, partner_flaws, partners_of, readings_of_both
from service.engine.documents import Flaw, Name, Quantity, Text, in_words, number_flaws, quoted
from service.engine.numbers import (
    Column,
    Unit,
    WholeColumn,
    brief,
    exact,
    exactly,
    less,
    plain,
    product_of,
    quotient_of,
    times,
    with_unit,
)

REGAIN, CONTENT = "moisture_regain", "moisture_content"
SIDES: Mapping[str, str] = {"mass": "mass", "of": "mass per length or a length per mass"}
"""What the first side is, by the member that names it."""
FINENESS: tuple[Quantity, ...] = ("mass_per_length", "length_per_mass")
ONE, HUNDRED = Fraction(1), Fraction(100)


class ByRegain(Derivable, frozen=True, kw_only=True):
    """What both kinds say: how moist it was, and the regain that is agreed on, in percent of the dry mass."""

    moisture: Name
    """`moisture_regain` or `moisture_content`."""
    regain: Annotated[float, Meta(ge=0)]
    list_: Text | UnsetType = field(default=UNSET, name="list")
    """The list of agreed regains that it is from."""
    moisture_by: Literal["reading", "mean"] | UnsetType = UNSET
    """`reading`, each with a moisture of its own package, where left out; `mean`: the mean of all goes for each."""


class CommercialMass(ByRegain, frozen=True, kw_only=True, tag="commercial_mass"):
    """The dry mass and the agreed regain on it."""

    mass: Name


class AtStandardRegain(ByRegain, frozen=True, kw_only=True, tag="at_standard_regain"):
    """Runnage or linear density, as it would be with the agreed regain."""

    of: Name


class Conditioned(Struct, frozen=True):
    """How a derived characteristic comes from a measured one and its moisture, in its own unit."""

    of: CompiledCharacteristic
    moisture: CompiledCharacteristic
    factor: Fraction
    """From the unit of the measured one to that of the derived one."""
    regain: Fraction
    """1 + r."""
    share: Fraction
    """What one unit of the moisture is of the whole: 1/100 for %."""
    by_mean: bool
    source: str
    """Where the agreed regain is from."""

    @property
    def sources(self) -> tuple[CompiledCharacteristic, ...]:
        """What is measured, and its moisture."""
        return self.of, self.moisture

    @property
    def averaged(self) -> tuple[CompiledCharacteristic, ...]:
        """The moisture where its mean goes for each."""
        return (self.moisture,) if self.by_mean else ()

    @property
    def of_means(self) -> bool:
        """Each reading has its own."""
        return False

    @property
    def formula(self) -> str:
        """How it is worked out, in words of the trade."""
        agreed = f"(1 + {brief((self.regain - 1) * HUNDRED)}/100)"
        what, mean = self.of.words, "mean " if self.by_mean else ""
        if self.moisture.name == REGAIN:
            found, means = "(1 + R/100)", f"R the {mean}moisture regain in % of the dry mass"
            said = f"{what} * {found}/{agreed}" if self._is_runnage else f"{what} * {agreed}/{found}"
        else:
            found, means = "(1 - M/100)", f"M the {mean}moisture content in % of the mass as it is"
            said = f"{what}/({found} * {agreed})" if self._is_runnage else f"{what} * {found} * {agreed}"
        return f"{said}, {means}"

    def flaws(self, derived: CompiledCharacteristic, by_characteristic: Mapping[str, Readings]) -> Iterator[Flaw]:
        """Readings without a partner, and moistures that none can have; nothing while one side is absent."""
        sides = readings_of_both(self.sources, by_characteristic)
        if sides is None:
            return
        if not self.by_mean:
            yield from partner_flaws(derived, *sides)
            sides = pairs_of(*sides)
        if sides:
            yield from self._moisture_flaws(derived, sides[1])

    def readings(self, derived: CompiledCharacteristic, by_characteristic: Mapping[str, Readings]) -> Readings | None:
        """One for each reading of what is measured; None while one side is absent."""
        sides = readings_of_both(self.sources, by_characteristic)
        if sides and not self.by_mean:
            sides = pairs_of(*sides)
        if sides is None:
            return None
        of, moisture = sides
        if self.by_mean:
            mean = exactly(moisture.column.mean())
            numbers = WholeColumn([mean.numerator], Fraction(1, mean.denominator))
            return of.worked_into(self._conditioned(of.column, numbers, [0] * of.count), averaged=(moisture,))
        partners = partners_of(of, moisture)
        return of.worked_into(self._conditioned(of.column, moisture.column, partners), Partners(moisture, partners))

    @property
    def _is_runnage(self) -> bool:
        return self.of.quantity == "length_per_mass"

    def _conditioned(self, column: Column, moisture: Column, partners: Sequence[int]) -> Column:
        """Each value with its moisture taken out and the agreed regain put in.

        With v in units of s, 1 + v·s is (v + 1/s)·s, and 1 − v·s is (1/s − v)·s.
        """
        whole = ONE / self.share
        if self.moisture.name == REGAIN:
            wet, divides = less(moisture, -whole), not self._is_runnage
        else:
            wet, divides = times(less(moisture, whole), -ONE), self._is_runnage
        factor = self.factor / self.regain if self._is_runnage else self.factor * self.regain
        if divides:
            return quotient_of(column, wet, partners, factor / self.share)
        return product_of(column, wet, partners, factor * self.share)

    def _moisture_flaws(self, derived: CompiledCharacteristic, moisture: Readings) -> Iterator[Flaw]:
        """There is no less water than none, and not all that is weighed is water."""
        name, whole, rule = self.moisture.name, ONE / self.share, f"{derived.pointer}/derived/moisture"
        low, high = moisture.column.extremes()
        if low >= 0 and (name == REGAIN or high < whole):
            return
        for number, value in enumerate(moisture.column.exact_values()):
            shown, at = with_unit(brief(value), self.moisture.symbol), pointer(moisture.place(number))
            if value < 0:
                text = f"A {self.moisture.words} of {shown} would be less water than none. Correct the reading."
                yield Flaw("moisture-below-zero", text, at, rule)
            elif name == CONTENT and value >= whole:
                text = (
                    f"A moisture content of {shown} would leave nothing dry. Correct the reading, or send it as "
                    f"{REGAIN}, which is on dry mass."
                )
                yield Flaw("moisture-is-all", text, at, rule)


def sides(document: CommercialMass | AtStandardRegain) -> Sequence[Side]:
    """What is measured, and its moisture."""
    measured = Side("mass", document.mass) if isinstance(document, CommercialMass) else Side("of", document.of)
    return measured, Side("moisture", document.moisture)


def flaws(
    document: CommercialMass | AtStandardRegain, derived: Subject, quantities: Sequence[Quantity | None], at: str
) -> Iterator[Flaw]:
    """The sides are what the kind takes, and what comes of them is of the same quantity as the first."""
    (member, name), quantity = sides(document)[0], quantities[0]
    taken = ("mass",) if isinstance(document, CommercialMass) else FINENESS
    if quantity and quantity not in taken:
        text = f"{name} is a {in_words(quantity)}, and a {SIDES[member]} is asked for here. Name one."
        yield Flaw("side-of-other-quantity", text, f"{at}/{member}")
    elif quantity and derived.quantity and quantity != derived.quantity:
        text = f"{name} is a {in_words(quantity)} and stays one; {derived.name} is a {in_words(derived.quantity)}. Change one."
        yield Flaw("side-of-other-quantity", text, f"{at}/{member}")
    if quantities[1] and document.moisture not in {REGAIN, CONTENT}:
        text = f"{quoted(document.moisture)} does not tell what the water is a share of. Name `{REGAIN}` or `{CONTENT}`."
        yield Flaw("moisture-of-what", text, f"{at}/moisture")
    yield from number_flaws(document.regain, f"{at}/regain")


def compiled(
    document: CommercialMass | AtStandardRegain, sources: Sequence[CompiledCharacteristic], unit: Unit
) -> Conditioned | None:
    """How it comes from what is measured; None where that has no unit."""
    of, moisture = sources
    if not (of.unit and moisture.unit):
        return None
    regain = exact(document.regain)
    origin = document.list_ or "given by the grade"
    return Conditioned(
        of=of,
        moisture=moisture,
        factor=of.unit.factor / unit.factor,
        regain=1 + regain / HUNDRED,
        share=moisture.unit.factor,
        by_mean=document.moisture_by == "mean",
        source=f"Regain of {plain(regain)} %: {origin}",
    )
