"""Second samples of a lot (series of stage 2): their readings alone, and pooled with the first sample."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Protocol, TypeVar

from service.engine.characteristics import CompiledCharacteristic
from service.engine.documents import Flaw, Series, quoted
from service.engine.lot.counting import SECOND
from service.engine.lot.lot import SampleReadings, SecondStage


class Numbered(Protocol):
    """A series with its index in the evidence; a Protocol, so that this module does not import who uses it."""

    @property
    def number(self) -> int:
        """Index in the evidence, from 0."""

    @property
    def series(self) -> Series:
        """The series as sent."""


S = TypeVar("S", bound=Numbered)
# A callable, not an import: `preparing` gathers readings and imports this module.
Gather = Callable[[Sequence[S], Sequence[CompiledCharacteristic], SampleReadings], SampleReadings]
"""(series, derived characteristics, readings known already) → the readings of all of them."""


def is_second(sent: Numbered) -> bool:
    """True for a series of a second sample that has values."""
    return sent.series.stage == SECOND and bool(sent.series.values)


def stage_order_flaws(series: Sequence[Numbered], derived: Sequence[CompiledCharacteristic]) -> Iterator[Flaw]:
    """The flaws of second samples that precede the first sample of a characteristic whose readings are paired."""
    # Readings without a package are paired in the order of the document, so a mix of samples would pair the wrong ones.
    paired = {name for each in derived for name in _paired_sources(each)}
    last = {sent.series.characteristic: sent.number for sent in series if sent.series.values and not is_second(sent)}
    for sent in series:
        name = sent.series.characteristic
        if is_second(sent) and name in paired and last.get(name, -1) > sent.number:
            text = (
                f"The second stage of {quoted(name)} comes before /series/{last[name]}, which is of the first. "
                "Put it after that one."
            )
            yield Flaw("stages-out-of-order", text, f"/series/{sent.number}/stage")


def second_stage(
    series: Sequence[S], first: SampleReadings, derived: Sequence[CompiledCharacteristic], gather: Gather[S]
) -> SecondStage:
    """The second sample alone, and pooled with the first; characteristics that it does not concern have their first sample.

    first    the readings of the first sample
    derived  the derived characteristics that requirements need
    """
    second = [sent for sent in series if is_second(sent)]
    numbers: dict[str, list[int]] = {}
    for sent in second:
        numbers.setdefault(sent.series.characteristic, []).append(sent.number)
    sources = {each.name: _paired_sources(each) for each in derived}
    concerned = [each for each in derived if not sources[each.name].isdisjoint(numbers)]
    # A knot of the second sample has no partner among the straight breaks of the first: both sides have to be drawn again.
    complete = [each for each in concerned if sources[each.name] <= numbers.keys()]
    replaced = {*numbers, *(each.name for each in concerned), *(name for each in concerned for name in sources[each.name])}
    by_characteristic, outside_marks, doubts = first
    rest = SampleReadings(_without(by_characteristic, replaced), _without(outside_marks, replaced), _without(doubts, replaced))
    both = [sent for sent in series if sent.series.characteristic in numbers]
    return SecondStage(gather(second, complete, rest), gather(both, complete, rest), numbers)


T = TypeVar("T")


def _without(part: Mapping[str, T], names: set[str]) -> dict[str, T]:
    return {name: value for name, value in part.items() if name not in names}


def _paired_sources(derived: CompiledCharacteristic) -> set[str]:
    """The sources used reading by reading, or by a quotient of means; not those averaged over the lot for all values."""
    return {side.name for side in derived.sources} - {side.name for side in derived.averaged}
