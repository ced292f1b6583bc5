"""A prepared lot: all facts about it that requirements query when they judge it."""

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import NamedTuple

from service.engine.characteristics import CompiledCharacteristic, Readings
from service.engine.documents import Declarable, Reason
from service.engine.lot.counting import Counts
from service.engine.lot.dating import Dates
from service.engine.sampling import LotSize


class OutsideMarks(NamedTuple):
    """Readings of specimens that broke outside the marks. The true force is not known; it is no less than the reading."""

    readings: Readings
    with_others: Readings
    """`readings` and all readings that enter statistics, in the order sent."""


class SampleReadings(NamedTuple):
    """The readings of one sample by characteristic; the members mean the same as those of `Lot`."""

    by_characteristic: Mapping[str, Readings] = MappingProxyType({})
    outside_marks: Mapping[str, OutsideMarks] = MappingProxyType({})
    doubts: Mapping[str, Sequence[Reason]] = MappingProxyType({})


class SecondStage(NamedTuple):
    """The readings of a second sample (stage 2 of the evidence)."""

    alone: SampleReadings
    pooled: SampleReadings
    """The second sample together with the first."""
    series: Mapping[str, Sequence[int]]
    """Indices in the evidence of its series, by characteristic."""


class Lot(NamedTuple):
    """A prepared lot, from evidence without flaws. All values are exact and in the units of the grade."""

    sizes: LotSize
    by_characteristic: Mapping[str, Readings]
    """Readings of measured characteristics, and of those derived reading by reading."""
    declared: Mapping[str, tuple[int, Declarable]]
    """(index in the evidence, value) by characteristic."""
    dates: Dates
    counts: Counts
    outside_marks: Mapping[str, OutsideMarks] = MappingProxyType({})
    """By characteristic; counted only where single readings are judged, never in a statistic."""
    doubts: Mapping[str, Sequence[Reason]] = MappingProxyType({})
    """Reasons by measured characteristic for which its readings cannot be judged; requirements on it are then undecided."""
    second: SecondStage | None = None
    """None where no series is of a second sample (the usual case)."""

    def readings(self, characteristic: CompiledCharacteristic) -> Readings | None:
        """The readings of a characteristic; None where the lot has none."""
        return self.by_characteristic.get(characteristic.name)

    def counting(self, source: CompiledCharacteristic, of: CompiledCharacteristic) -> Readings | None:
        """The readings of `source` that count towards the sample of the characteristic `of`, which is derived from it."""
        readings, derived = self.readings(source), of.derived
        if readings is None or derived is None or derived.of_means or source in of.averaged:
            return readings
        if any(self.readings(side) is None for side in of.sides):
            return readings
        # A reading whose partner was left out gives no value of the derived one, so only complete pairs fill the sample.
        pairs = self.readings(of)
        return readings if pairs and pairs.count == readings.count else pairs

    @property
    def second_stage(self) -> frozenset[int]:
        """Indices in the evidence of the series of a second sample."""
        return (
            frozenset(number for numbers in self.second.series.values() for number in numbers) if self.second else frozenset()
        )

    def of_second(self) -> "Lot":
        """The lot with the readings of the second sample alone; the lot itself where it has none."""
        return self._with_sample(self.second.alone) if self.second else self

    def pooled(self) -> "Lot":
        """The lot with the readings of both samples; the lot itself where it has no second one."""
        return self._with_sample(self.second.pooled) if self.second else self

    def _with_sample(self, sample: SampleReadings) -> "Lot":
        by_characteristic, outside_marks, doubts = sample
        return self._replace(by_characteristic=by_characteristic, outside_marks=outside_marks, doubts=doubts)
