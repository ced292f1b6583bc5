"""A lot ready to be judged: all that is known about it, for requirements to ask."""

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import NamedTuple

from service.engine.characteristics import CompiledCharacteristic, Readings
from service.engine.documents import Declarable, Reason
from service.engine.lot.counting import Counts
from service.engine.lot.dating import Dates
from service.engine.sampling import LotSize


class OutsideMarks(NamedTuple):
    """Readings of specimens that broke outside the marks: no less than the true force, which is not known."""

    readings: Readings
    with_others: Readings
    """These and all that enter statistics, in the order sent."""


class SampleReadings(NamedTuple):
    """The readings of a sample, by characteristic, as `Lot` has them."""

    by_characteristic: Mapping[str, Readings] = MappingProxyType({})
    outside_marks: Mapping[str, OutsideMarks] = MappingProxyType({})
    doubts: Mapping[str, Sequence[Reason]] = MappingProxyType({})


class SecondStage(NamedTuple):
    """A second sample."""

    alone: SampleReadings
    pooled: SampleReadings
    """Together with the first sample."""
    series: Mapping[str, Sequence[int]]
    """The numbers of its series, by characteristic."""


class Lot(NamedTuple):
    """What is known about a lot, ready for requirements to ask."""

    sizes: LotSize
    by_characteristic: Mapping[str, Readings]
    """Of measured characteristics, and of those derived reading by reading."""
    declared: Mapping[str, tuple[int, Declarable]]
    """(number in the evidence, value) by characteristic."""
    dates: Dates
    counts: Counts
    outside_marks: Mapping[str, OutsideMarks] = MappingProxyType({})
    """By characteristic; they count where each reading is judged, and in nothing else."""
    doubts: Mapping[str, Sequence[Reason]] = MappingProxyType({})
    """By measured characteristic, why its readings decide nothing yet."""
    second: SecondStage | None = None
    """None where no series is of a second sample, as is usual."""

    def readings(self, characteristic: CompiledCharacteristic) -> Readings | None:
        """The readings of a characteristic; None where there is none."""
        return self.by_characteristic.get(characteristic.name)

    def counting(self, source: CompiledCharacteristic, of: CompiledCharacteristic) -> Readings | None:
        """What counts towards the sample of a source of this characteristic: a reading without its partner gives no value."""
        readings, derived = self.readings(source), of.derived
        if readings is None or derived is None or derived.of_means or source in of.averaged:
            return readings
        if any(self.readings(each) is None for each in of.sides):
            return readings
        pairs = self.readings(of)
        return readings if pairs and pairs.count == readings.count else pairs

    @property
    def second_stage(self) -> frozenset[int]:
        """The numbers of the series that are of a second sample."""
        return (
            frozenset(number for numbers in self.second.series.values() for number in numbers) if self.second else frozenset()
        )

    def of_second(self) -> "Lot":
        """The same with the readings of the second sample alone."""
        return self._seen_by(self.second.alone) if self.second else self

    def pooled(self) -> "Lot":
        """The same with the readings of both samples."""
        return self._seen_by(self.second.pooled) if self.second else self

    def _seen_by(self, drawn: SampleReadings) -> "Lot":
        by_characteristic, outside_marks, doubts = drawn
        return self._replace(by_characteristic=by_characteristic, outside_marks=outside_marks, doubts=doubts)
