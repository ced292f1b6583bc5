"""Characteristics of a compiled grade: what unit they are judged in, and how a reading in another comes to it."""

from collections.abc import Iterator, Mapping
from fractions import Fraction
from functools import cache
from typing import Protocol

from msgspec import Struct
from msgspec.structs import force_setattr

from service.engine.characteristics.readings import Readings
from service.engine.documents import Flaw, Quantity
from service.engine.numbers import RECIPROCAL, Unit, units_of
from service.engine.sampling import LotSize, NoPlan, Sample, SampleSize, size_of


class Conversion(Struct, frozen=True):
    """From a unit that readings may come in: value × factor, or factor / value where the unit is of the reciprocal quantity."""

    factor: Fraction
    turned_round: bool = False


class Derivation(Protocol):
    """How a derived characteristic comes from measured ones; `deriving` has a module a kind."""

    @property
    def sources(self) -> "tuple[CompiledCharacteristic, ...]":
        """The characteristics that it takes; measured, or the net content of a package."""

    @property
    def averaged(self) -> "tuple[CompiledCharacteristic, ...]":
        """Those of them whose mean goes into every value; the readings of the others are taken one by one."""

    @property
    def of_means(self) -> bool:
        """True where it is one number for the lot, so that there are no readings of it."""

    def flaws(self, derived: "CompiledCharacteristic", by_characteristic: "Mapping[str, Readings]") -> Iterator[Flaw]:
        """What keeps the readings that are in from coming together, with pointers into the evidence."""

    def readings(self, derived: "CompiledCharacteristic", by_characteristic: "Mapping[str, Readings]") -> "Readings | None":
        """The readings of it, where those of the sources have no flaws; None while a source is absent, or of means."""


class Precautions(Struct, frozen=True):
    """What a grade asks before a reading is taken as it stands, and what it does with remarks."""

    plausible: tuple[Fraction | None, Fraction | None] | None = None
    """(lowest, highest) in the characteristic's unit, None for an open side."""
    method: str | None = None
    """By which method every reading must be taken."""
    left_out: frozenset[str] = frozenset()
    """Remarks that leave a reading out."""
    outside_marks_at: Fraction | None = None
    """Percent of a lower limit at which a specimen passes that broke outside the marks."""
    is_calibrated: bool = False
    """True where readings from an instrument overdue for calibration decide nothing."""


NO_PRECAUTIONS = Precautions()


class CompiledCharacteristic(Struct, frozen=True):
    """A characteristic without flaws; `unit` is None for a category."""

    pointer: str
    """`/characteristics/1`"""
    name: str
    quantity: Quantity
    unit: Unit | None
    sample: Sample | None
    derived: Derivation | None
    conversions: Mapping[str, Conversion]
    """By every word that a series may give as its unit."""
    precautions: Precautions = NO_PRECAUTIONS
    holds: int = 1
    """So many packages are in what one reading of it is of: 1, or those of a pack."""
    words: str = ""
    """Its name in a sentence: `knot breaking force`."""
    symbol: str = ""
    """The symbol of its unit; a category has none."""

    def __post_init__(self) -> None:
        """Work out what sentences say, once for all of them."""
        force_setattr(self, "words", self.name.replace("_", " "))
        force_setattr(self, "symbol", self.unit.symbol if self.unit else "")

    @property
    def sources(self) -> "tuple[CompiledCharacteristic, ...]":
        """The measured characteristics that its values come from in the end: itself, or what it is derived from."""
        if self.derived is None:
            return (self,)
        found = {source.name: source for side in self.sides for source in side.sources}
        return tuple(found.values())

    @property
    def sides(self) -> "tuple[CompiledCharacteristic, ...]":
        """What it is derived from, of which one may be derived itself; nothing where it is measured."""
        return self.derived.sources if self.derived else ()

    @property
    def lineage(self) -> "tuple[CompiledCharacteristic, ...]":
        """Itself, and all that it is derived from."""
        return (self, *(each for side in self.sides for each in side.lineage))

    @property
    def averaged(self) -> "tuple[CompiledCharacteristic, ...]":
        """Those of its sources of which only the mean goes into every value."""
        direct = self.derived.averaged if self.derived else ()
        found = (side.sources if side in direct else side.averaged for side in self.sides)
        return tuple(source for each in found for source in each)

    def counted(self, lot: LotSize) -> LotSize:
        """How large the lot is for its samples: in packs where it is read on these."""
        return lot.in_packs(self.holds)

    def own_sample(self, lot: LotSize) -> SampleSize | NoPlan | None:
        """What the sample that stands on it asks of a lot; None where none does."""
        return size_of(self.sample, self.counted(lot)) if self.sample else None


@cache
def conversions_to(unit: Unit) -> Mapping[str, Conversion]:
    """How readings come to this unit, by every word for a unit of its quantity or of the reciprocal one."""
    ready = {word: Conversion(source.factor / unit.factor) for source in units_of(unit.quantity) for word in source.words}
    reciprocal = RECIPROCAL.get(unit.quantity)
    for source in units_of(reciprocal) if reciprocal else ():
        turned = Conversion(1 / (source.factor * unit.factor), turned_round=True)
        ready.update(dict.fromkeys(source.words, turned))
    return ready


def symbols_for(quantity: Quantity) -> list[str]:
    """Symbols of the units that readings of this quantity may come in."""
    reciprocal = RECIPROCAL.get(quantity)
    return [unit.symbol for each in (quantity, reciprocal) if each for unit in units_of(each)]
