"""The kind `net_of_tare`: the gross reading of each package minus its tare."""

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from typing import Annotated

from msgspec import UNSET, Meta, Struct, UnsetType

from service.engine.characteristics import CompiledCharacteristic, Partners, Readings, pointer
from service.engine.deriving.derivation import Derivable, Side, Subject
from service.engine.deriving.pairing import pairs_of, partner_flaws, partners_of
from service.engine.documents import Flaw, Name, Quantity, in_words, number_flaws
from service.engine.numbers import ZERO, Column, Unit, difference_of, exact, exactly, figure, less, times, with_unit

WEIGHED = ("sampled", "per_package")
FIGURES = 3
"""Decimals of masses in a sentence: grams, where the unit is kg."""


class Tare(Struct, frozen=True, forbid_unknown_fields=True):
    """The tare, given in one of three ways: a number in the unit of the derived characteristic, or a weighed characteristic."""

    fixed: Annotated[float, Meta(ge=0)] | UnsetType = UNSET
    sampled: Name | UnsetType = UNSET
    """The characteristic of which the mean of all readings is subtracted from each package."""
    per_package: Name | UnsetType = UNSET
    """The characteristic of which each package has its own reading."""


class NetOfTare(Derivable, frozen=True, kw_only=True, tag="net_of_tare"):
    """The gross reading of each package minus its tare."""

    gross: Name
    tare: Tare


class Net(Struct, frozen=True):
    """The compiled net content, gross × factor − tare, in the unit of the derived characteristic."""

    gross: CompiledCharacteristic
    factor: Fraction
    fixed: Fraction
    """The fixed tare; 0 where the tare is weighed."""
    tare: CompiledCharacteristic | None
    """The weighed tare; None for a fixed one."""
    tare_factor: Fraction
    """Conversion from the unit of the weighed tare to that of the derived characteristic."""
    is_paired: bool
    """True where each package has its own tare."""

    @property
    def sources(self) -> tuple[CompiledCharacteristic, ...]:
        """The gross characteristic, and the tare where it is weighed."""
        return (self.gross, self.tare) if self.tare else (self.gross,)

    @property
    def averaged(self) -> tuple[CompiledCharacteristic, ...]:
        """The tare, where a sample of it is weighed for all packages."""
        return (self.tare,) if self.tare and not self.is_paired else ()

    @property
    def of_means(self) -> bool:
        """False: each package gives a value."""
        return False

    def flaws(self, derived: CompiledCharacteristic, by_characteristic: Mapping[str, Readings]) -> Iterator[Flaw]:
        """Flaws of readings without a partner and of tares above the gross; none while one side is absent."""
        present = self._present(by_characteristic)
        if present is None:
            return
        gross, *tares = present
        if self.is_paired and (unpaired := list(partner_flaws(derived, gross, tares[0]))):
            yield from unpaired
            return
        if (pair := self._pair(gross, tares)) is None:
            return
        column = self._column(*pair)
        # The lowest net content rules out nearly every column without a look at each package.
        if column.extremes()[0] >= 0:
            return
        for number in column.outside(ZERO, None):
            yield self._tare_above_gross(derived, *pair, number)

    def readings(self, derived: CompiledCharacteristic, by_characteristic: Mapping[str, Readings]) -> Readings | None:
        """A net content for each gross reading, of the same package; None while one side is absent."""
        present = self._present(by_characteristic)
        if present is None:
            return None
        pair = self._pair(present[0], present[1:])
        if pair is None:
            return None
        gross, tares = pair
        column = self._column(gross, tares)
        if self.is_paired:
            return gross.derive(column, Partners(tares[0], partners_of(gross, tares[0])))
        return gross.derive(column, averaged=tares)

    def _present(self, by_characteristic: Mapping[str, Readings]) -> list[Readings] | None:
        """The readings of all sources; None while those of one are absent."""
        found = [by_characteristic.get(source.name) for source in self.sources]
        present = [readings for readings in found if readings]
        return present if len(present) == len(found) else None

    def _pair(self, gross: Readings, tares: Sequence[Readings]) -> tuple[Readings, Sequence[Readings]] | None:
        """The gross readings that have a tare, and the tares; None where no pair is left."""
        if not self.is_paired:
            return gross, tares
        pairs = pairs_of(gross, tares[0])
        return (pairs[0], [pairs[1]]) if pairs else None

    def _column(self, gross: Readings, tares: Sequence[Readings]) -> Column:
        """The net contents; below 0 where the tare is above the gross reading."""
        column = times(gross.column, self.factor)
        if self.is_paired:
            return difference_of(column, times(tares[0].column, self.tare_factor), partners_of(gross, tares[0]))
        return less(column, self._tare_of(tares))

    def _tare_of(self, tares: Sequence[Readings]) -> Fraction:
        """The tare that is the same for all packages."""
        return exactly(tares[0].column.mean()) * self.tare_factor if tares else self.fixed

    def _tare_above_gross(
        self, derived: CompiledCharacteristic, gross: Readings, tares: Sequence[Readings], number: int
    ) -> Flaw:
        """The flaw of a package that weighs less than its tare."""
        whole = times(gross.column.picked([number]), self.factor).exact_values()[0]
        tare = whole - self._column(gross, tares).picked([number]).exact_values()[0]
        shown = [with_unit(figure(mass, FIGURES), derived.symbol) for mass in (whole, tare)]
        what = f"The {self.gross.words} is {shown[0]} and the tare {shown[1]}, so the package would be empty"
        text = f"{what}. Correct the reading, or the tare."
        return Flaw("tare-above-gross", text, pointer(gross.place(number)), f"{derived.pointer}/derived/tare")


def sides(document: NetOfTare) -> Sequence[Side]:
    """The gross characteristic, and the tare where it is weighed."""
    found = [Side("gross", document.gross)]
    for member, name in zip(WEIGHED, (document.tare.sampled, document.tare.per_package), strict=True):
        if not isinstance(name, UnsetType):
            found.append(Side(f"tare/{member}", name))
    return found


def flaws(document: NetOfTare, derived: Subject, quantities: Sequence[Quantity | None], at: str) -> Iterator[Flaw]:
    """Flaws of a tare that is not given in exactly one way, and of sides of another quantity than the derived one."""
    tare = document.tare
    given = [member for member in ("fixed", *WEIGHED) if not isinstance(getattr(tare, member), UnsetType)]
    if len(given) != 1:
        what = f"The tare is given in {len(given)} ways" if given else "The tare is missing"
        yield Flaw("one-tare", f"{what}. Give one of `fixed`, `sampled` and `per_package`.", f"{at}/tare")
    if not isinstance(tare.fixed, UnsetType):
        yield from number_flaws(tare.fixed, f"{at}/tare/fixed")
    for side, quantity in zip(sides(document), quantities, strict=True):
        if quantity and derived.quantity and quantity != derived.quantity:
            text = (
                f"`{side.name}` is a {in_words(quantity)}, and `{derived.name}` is a {in_words(derived.quantity)}. "
                f"Name a {in_words(derived.quantity)}."
            )
            yield Flaw("side-of-other-quantity", text, f"{at}/{side.member}")


def compiled(document: NetOfTare, sources: Sequence[CompiledCharacteristic], unit: Unit) -> Net | None:
    """The compiled calculation; None where a side has no unit."""
    units = [source.unit for source in sources if source.unit]
    if len(units) != len(sources):
        return None
    tare = sources[1] if len(sources) > 1 else None
    fixed = ZERO if isinstance(document.tare.fixed, UnsetType) else exact(document.tare.fixed)
    # With a fixed tare the last factor is that of the gross, and `tare_factor` is not used.
    factors = [weighed.factor / unit.factor for weighed in units]
    return Net(sources[0], factors[0], fixed, tare, factors[-1], not isinstance(document.tare.per_package, UnsetType))
