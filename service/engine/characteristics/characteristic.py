"""Characteristics of a compiled grade: the unit they are judged in, and conversions from all units of readings."""

from collections.abc import Collection, Iterator, Mapping
from fractions import Fraction
from typing import Protocol

from msgspec import Struct
from msgspec.structs import force_setattr

from service.engine.characteristics.conversions import Conversion
from service.engine.characteristics.readings import Readings, SentUnit
from service.engine.documents import PACKAGE, Flaw, Quantity
from service.engine.numbers import Unit
from service.engine.sampling import LotSize, NoPlan, Sample, SampleSize, size_of


class Derivation(Protocol):
    """The calculation of a derived characteristic from measured ones; `deriving` has one module for each kind."""

    # A Protocol here and its classes in `deriving`, since these use characteristics and imports must not go in a circle.

    @property
    def sources(self) -> "tuple[CompiledCharacteristic, ...]":
        """The characteristics it is calculated from: measured ones, or the net content of a package."""

    @property
    def averaged(self) -> "tuple[CompiledCharacteristic, ...]":
        """The sources whose mean enters every value; the readings of the others are used one by one."""

    @property
    def of_means(self) -> bool:
        """True where it is a single number for the lot, without readings."""

    def flaws(self, derived: "CompiledCharacteristic", by_characteristic: "Mapping[str, Readings]") -> Iterator[Flaw]:
        """Flaws of the evidence that prevent the calculation, as readings that can't be paired; with pointers to them."""

    def readings(self, derived: "CompiledCharacteristic", by_characteristic: "Mapping[str, Readings]") -> "Readings | None":
        """The derived readings, from sources without flaws; None while a source is absent, and where `of_means`."""


class Precautions(Struct, frozen=True):
    """The grade's conditions for using a reading as sent, and its rules for remarks."""

    plausible: tuple[Fraction | None, Fraction | None] | None = None
    """(lowest, highest) plausible value in the characteristic's unit, None for an open side."""
    method: str | None = None
    """The method by which every reading must be taken; None for any."""
    left_out: frozenset[str] = frozenset()
    """Remarks that exclude a reading."""
    # Such a break tells no true force, only that it is not less: an upper limit stays undecided.
    outside_marks_at: Fraction | None = None
    """The percentage of a lower limit at which a specimen that broke outside the marks passes."""
    is_calibrated: bool = False
    """True where readings from an instrument overdue for calibration leave a requirement undecided."""


NO_PRECAUTIONS = Precautions()


class CompiledCharacteristic(Struct, frozen=True):
    """A characteristic of a compiled grade; `unit` is None for a category."""

    pointer: str
    """JSON Pointer into the grade: `/characteristics/1`."""
    name: str
    quantity: Quantity
    unit: Unit | None
    sample: Sample | None
    derived: Derivation | None
    conversions: Mapping[str, Conversion]
    """The conversion for every word that a series may give as its unit."""
    precautions: Precautions = NO_PRECAUTIONS
    holds: int = 1
    """The number of packages that one reading is of: 1, or those in a pack."""
    package: str = PACKAGE
    """The grade's word for what one reading is of: `ball`, or `bale` for a pack."""
    words: str = ""
    """Its name in a sentence: `knot breaking force`; derived from the name."""
    symbol: str = ""
    """The symbol of its unit, empty for a category; derived from the unit."""

    def __post_init__(self) -> None:
        """Set the words that sentences use."""
        # Once at compilation. The Struct is frozen, so derived members are set by force.
        force_setattr(self, "words", self.name.replace("_", " "))
        force_setattr(self, "symbol", self.unit.symbol if self.unit else "")

    @property
    def sources(self) -> "tuple[CompiledCharacteristic, ...]":
        """The measured characteristics that its values are finally calculated from; itself where it is measured."""
        if self.derived is None:
            return (self,)
        found = {source.name: source for side in self.sides for source in side.sources}
        return tuple(found.values())

    @property
    def sides(self) -> "tuple[CompiledCharacteristic, ...]":
        """The characteristics it is directly derived from, of which one may be derived itself; empty where it is measured."""
        return self.derived.sources if self.derived else ()

    @property
    def lineage(self) -> "tuple[CompiledCharacteristic, ...]":
        """Itself and all characteristics that it is directly or indirectly derived from."""
        return (self, *(ancestor for side in self.sides for ancestor in side.lineage))

    @property
    def averaged(self) -> "tuple[CompiledCharacteristic, ...]":
        """Those of its sources of which only the mean enters every value."""
        direct = self.derived.averaged if self.derived else ()
        by_side = (side.sources if side in direct else side.averaged for side in self.sides)
        return tuple(source for sources in by_side for source in sources)

    def counted(self, lot: LotSize) -> LotSize:
        """The lot's size for samples of this characteristic: counted in packs where readings are of packs."""
        return lot.in_packs(self.holds)

    def own_sample(self, lot: LotSize) -> SampleSize | NoPlan | None:
        """The sample size for a lot by the characteristic's own sample; None where it has none."""
        return size_of(self.sample, self.counted(lot)) if self.sample else None


# Cached for each unit of the closed table, as all grades use the same few.


def sent_unit_of(of: CompiledCharacteristic, words: Collection[str]) -> SentUnit | None:
    """The unit of readings that were sent in units of these words; None for the grade's unit, or where they are several."""
    if len(words) != 1:
        return None
    (word,) = words
    conversion = of.conversions[word]
    return None if conversion.factor == 1 and not conversion.turned_round else SentUnit(word, conversion)
