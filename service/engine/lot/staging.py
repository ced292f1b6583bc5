"""Second samples among the series of a lot: kept apart from the first ones, alone and pooled with them."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Protocol, TypeVar

from service.engine.characteristics import CompiledCharacteristic
from service.engine.documents import Flaw, Series
from service.engine.lot.counting import SECOND
from service.engine.lot.lot import SampleReadings, SecondStage


class Numbered(Protocol):
    """A series, and where it stands in the evidence."""

    @property
    def number(self) -> int:
        """Its place."""

    @property
    def series(self) -> Series:
        """As it was sent."""


S = TypeVar("S", bound=Numbered)
Gather = Callable[[Sequence[S], Sequence[CompiledCharacteristic], SampleReadings], SampleReadings]
"""What series come to, with these derived characteristics, and beside it what is known already."""


def is_second(sent: Numbered) -> bool:
    """True for a series of a second sample that has values."""
    return sent.series.stage == SECOND and bool(sent.series.values)


def order_flaws(series: Sequence[Numbered], derived: Sequence[CompiledCharacteristic]) -> Iterator[Flaw]:
    """Readings that are paired are so in the order of the document, so there a second sample stands after the first."""
    paired = {name for each in derived for name in _taken_one_by_one(each)}
    last = {each.series.characteristic: each.number for each in series if each.series.values and not is_second(each)}
    for each in series:
        name = each.series.characteristic
        if is_second(each) and name in paired and last.get(name, -1) > each.number:
            text = f"The second stage of {name} stands before /series/{last[name]}, which is of the first. Put it after that."
            yield Flaw("stages-out-of-order", text, f"/series/{each.number}/stage")


def second_stage(
    series: Sequence[S], first: SampleReadings, derived: Sequence[CompiledCharacteristic], gather: Gather[S]
) -> SecondStage:
    """The second sample alone, and pooled with the first; beside it the first sample of what has no part in it.

    What is derived reading by reading is there only where all that it takes is in the second sample too.
    """
    later = [each for each in series if is_second(each)]
    numbers: dict[str, list[int]] = {}
    for each in later:
        numbers.setdefault(each.series.characteristic, []).append(each.number)
    taken = {each.name: _taken_one_by_one(each) for each in derived}
    touched = [each for each in derived if not taken[each.name].isdisjoint(numbers)]
    whole = [each for each in touched if taken[each.name] <= numbers.keys()]
    concerned = {*numbers, *(each.name for each in touched), *(name for each in touched for name in taken[each.name])}
    by_characteristic, outside_marks, doubts = first
    rest = SampleReadings(
        _without(by_characteristic, concerned), _without(outside_marks, concerned), _without(doubts, concerned)
    )
    both = [each for each in series if each.series.characteristic in numbers]
    return SecondStage(gather(later, whole, rest), gather(both, whole, rest), numbers)


T = TypeVar("T")


def _without(part: Mapping[str, T], names: set[str]) -> dict[str, T]:
    return {name: found for name, found in part.items() if name not in names}


def _taken_one_by_one(derived: CompiledCharacteristic) -> set[str]:
    """What it takes reading by reading, or divides the means of; not what is averaged for all of its values."""
    return {side.name for side in derived.sources} - {side.name for side in derived.averaged}
