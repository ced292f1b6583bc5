"""Mass, runnage and linear density at an agreed regain: the kinds `commercial_mass` and `at_standard_regain`.

Regain R is the mass of water divided by the dry mass, moisture content M the mass of water divided by the mass as it is. So
the dry mass is the mass divided by 1 + R, or times 1 − M, and the mass at the agreed regain r is the dry mass times 1 + r.
Linear density is proportional to the mass, runnage inversely. An agreed regain is an arbitrary commercial figure of the
grade; it is never derived from a climate.
Source: ASTM D1909-13, section 4, in substance; M = R/(1 + R) follows from the two definitions.
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
"""The quantity of the first side, by the member that names it."""
FINENESS: tuple[Quantity, ...] = ("mass_per_length", "length_per_mass")
ONE, HUNDRED = Fraction(1), Fraction(100)


class ByRegain(Derivable, frozen=True, kw_only=True):
    """The common members of both kinds: the measured moisture, and the agreed regain in percent of the dry mass."""

    # Only these two names of the vocabulary say what the water is a share of; a grade's own name would leave that open.
    moisture: Name
    """`moisture_regain` or `moisture_content`."""
    regain: Annotated[float, Meta(ge=0)]
    list_: Text | UnsetType = field(default=UNSET, name="list")
    """The list of agreed regains that `regain` is from."""
    moisture_by: Literal["reading", "mean"] | UnsetType = UNSET
    """`reading`, also where left out: each reading is paired with a moisture of its package; `mean`: with the mean of all."""


class CommercialMass(ByRegain, frozen=True, kw_only=True, tag="commercial_mass"):
    """The dry mass plus the agreed regain."""

    mass: Name


class AtStandardRegain(ByRegain, frozen=True, kw_only=True, tag="at_standard_regain"):
    """Runnage or linear density at the agreed regain."""

    of: Name


class Conditioned(Struct, frozen=True):
    """The compiled calculation of a characteristic at the agreed regain from a measured one and its moisture."""

    of: CompiledCharacteristic
    moisture: CompiledCharacteristic
    factor: Fraction
    """Conversion from the unit of the measured characteristic to that of the derived one."""
    regain: Fraction
    """1 + r, with the agreed regain r as a share of the dry mass."""
    share: Fraction
    """One unit of the moisture as a share of the whole: 1/100 for %."""
    by_mean: bool
    """True where the mean moisture is used for each reading."""
    source: str
    """The source of the agreed regain, in words."""

    @property
    def sources(self) -> tuple[CompiledCharacteristic, ...]:
        """The measured characteristic, and its moisture."""
        return self.of, self.moisture

    @property
    def averaged(self) -> tuple[CompiledCharacteristic, ...]:
        """The moisture, where its mean is used for each reading."""
        return (self.moisture,) if self.by_mean else ()

    @property
    def of_means(self) -> bool:
        """False: each reading gives a value."""
        return False

    @property
    def formula(self) -> str:
        """The formula in words, for a finding."""
        agreed = f"(1 + {brief((self.regain - 1) * HUNDRED)}/100)"
        what, mean = self.of.words, "mean " if self.by_mean else ""
        if self.moisture.name == REGAIN:
            found, means = "(1 + R/100)", f"R the {mean}moisture regain in % of the dry mass"
            text = f"{what} * {found}/{agreed}" if self._is_runnage else f"{what} * {agreed}/{found}"
        else:
            found, means = "(1 - M/100)", f"M the {mean}moisture content in % of the mass as it is"
            text = f"{what}/({found} * {agreed})" if self._is_runnage else f"{what} * {found} * {agreed}"
        return f"{text}, {means}"

    def flaws(self, derived: CompiledCharacteristic, by_characteristic: Mapping[str, Readings]) -> Iterator[Flaw]:
        """Flaws of readings without a partner and of impossible moistures; none while one side is absent."""
        sides = readings_of_both(self.sources, by_characteristic)
        if sides is None:
            return
        if not self.by_mean:
            yield from partner_flaws(derived, *sides)
            sides = pairs_of(*sides)
        if sides:
            yield from self._moisture_flaws(derived, sides[1])

    def readings(self, derived: CompiledCharacteristic, by_characteristic: Mapping[str, Readings]) -> Readings | None:
        """A value for each reading of the measured characteristic; None while one side is absent."""
        sides = readings_of_both(self.sources, by_characteristic)
        if sides and not self.by_mean:
            sides = pairs_of(*sides)
        if sides is None:
            return None
        of, moisture = sides
        if self.by_mean:
            mean = exactly(moisture.column.mean())
            # A column of one value, with which every reading is paired, so that both ways share one calculation.
            numbers = WholeColumn([mean.numerator], Fraction(1, mean.denominator))
            return of.derive(self._conditioned(of.column, numbers, [0] * of.count), averaged=(moisture,))
        partners = partners_of(of, moisture)
        return of.derive(self._conditioned(of.column, moisture.column, partners), Partners(moisture, partners))

    @property
    def _is_runnage(self) -> bool:
        return self.of.quantity == "length_per_mass"

    def _conditioned(self, column: Column, moisture: Column, partners: Sequence[int]) -> Column:
        """Each value with its moisture replaced by the agreed regain."""
        # By the operations that columns have: with v in units of s, 1 + v·s is (v + 1/s)·s, and 1 − v·s is (1/s − v)·s.
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
        """Flaws of moistures below 0, and of moisture contents of 100 % or more."""
        # A regain has no upper bound, as the water may outweigh the dry mass.
        name, whole, rule = self.moisture.name, ONE / self.share, f"{derived.pointer}/derived/moisture"
        low, high = moisture.column.extremes()
        if low >= 0 and (name == REGAIN or high < whole):
            return
        for number, value in enumerate(moisture.column.exact_values()):
            shown, at = with_unit(brief(value), self.moisture.symbol), pointer(moisture.place(number))
            if value < 0:
                text = f"A {self.moisture.words} of {shown} is below 0. Correct the reading."
                yield Flaw("moisture-below-zero", text, at, rule)
            elif name == CONTENT and value >= whole:
                text = (
                    f"A moisture content of {shown} would leave no dry mass. Correct the reading, or send it as "
                    f"`{REGAIN}`, which is in % of the dry mass."
                )
                yield Flaw("moisture-is-all", text, at, rule)


def sides(document: CommercialMass | AtStandardRegain) -> Sequence[Side]:
    """The measured characteristic, and its moisture."""
    measured = Side("mass", document.mass) if isinstance(document, CommercialMass) else Side("of", document.of)
    return measured, Side("moisture", document.moisture)


def flaws(
    document: CommercialMass | AtStandardRegain, derived: Subject, quantities: Sequence[Quantity | None], at: str
) -> Iterator[Flaw]:
    """Flaws of sides of other quantities, of a moisture that does not say what it is a share of, and of the regain's range."""
    (member, name), quantity = sides(document)[0], quantities[0]
    accepted = ("mass",) if isinstance(document, CommercialMass) else FINENESS
    if quantity and quantity not in accepted:
        text = f"`{name}` is a {in_words(quantity)}, and this must be a {SIDES[member]}. Name one."
        yield Flaw("side-of-other-quantity", text, f"{at}/{member}")
    elif quantity and derived.quantity and quantity != derived.quantity:
        text = (
            f"`{name}` is a {in_words(quantity)}, and `{derived.name}` is a {in_words(derived.quantity)}. Make both the same."
        )
        yield Flaw("side-of-other-quantity", text, f"{at}/{member}")
    if quantities[1] and document.moisture not in {REGAIN, CONTENT}:
        text = f"{quoted(document.moisture)} does not say what the water is a share of. Name `{REGAIN}` or `{CONTENT}`."
        yield Flaw("moisture-of-what", text, f"{at}/moisture")
    yield from number_flaws(document.regain, f"{at}/regain")


def compiled(
    document: CommercialMass | AtStandardRegain, sources: Sequence[CompiledCharacteristic], unit: Unit
) -> Conditioned | None:
    """The compiled calculation; None where a side has no unit."""
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
