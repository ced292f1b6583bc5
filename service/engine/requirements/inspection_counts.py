"""What the packages looked over in one stage come to for a requirement: its class and those it includes, counted together."""

from collections.abc import Iterable, Iterator, Sequence
from typing import Literal, NamedTuple

from service.engine.characteristics import Pointers
from service.engine.documents import MOST_POINTERS, Flaw, quoted
from service.engine.lot import Counts, Tally

Counting = Literal["packages", "occurrences"]
"""Nonconforming packages, each once; or every occurrence, several of a package too."""


class Part(NamedTuple):
    """A class whose counts count here, and the faults that belong to it, of which counts may come instead."""

    name: str
    faults: Sequence[str]


class InspectionCounts(NamedTuple):
    """What was found on the packages looked over."""

    least_inspected: int
    """Packages looked over for every class and fault."""
    most_inspected: int
    """Packages looked over for the one that was looked for on the most, of those that were found."""
    found: int
    by_package: Sequence[int] | None
    """What each package adds, in the order in which they were drawn, where all are listed."""
    numbers: Sequence[int]
    """Of the counts in the evidence, rising."""

    @property
    def at(self) -> Pointers:
        """Where the counts stand."""
        return Pointers([f"/counts/{number}" for number in self.numbers[:MOST_POINTERS]], len(self.numbers))

    def first(self, packages: int) -> "InspectionCounts":
        """The first so many packages, where they are listed and there are more."""
        if self.by_package is None or len(self.by_package) <= packages:
            return self
        drawn = self.by_package[:packages]
        return InspectionCounts(packages, packages, sum(drawn), drawn, self.numbers)

    def with_next(self, following: "InspectionCounts") -> "InspectionCounts":
        """Both stages together."""
        numbers = sorted((*self.numbers, *following.numbers))
        return InspectionCounts(
            self.least_inspected + following.least_inspected,
            self.most_inspected + following.most_inspected,
            self.found + following.found,
            None,
            numbers,
        )


NONE_INSPECTED = InspectionCounts(0, 0, 0, None, ())


class NotCounted(NamedTuple):
    """What was not counted while others were: classes, or faults of a class."""

    classes: Sequence[str]
    faults: Sequence[str]


def inspection_counts(counts: Counts, parts: Sequence[Part], counting: Counting, stage: int) -> InspectionCounts | NotCounted:
    """What the counts of a stage come to, NONE_LOOKED_OVER where nothing was looked over.

    A nonconforming package counts once. Where the packages are listed in every count they are united place by place, so that
    one package with two faults is one package. Where they are not, the numbers are added, as they are right where each
    package was counted once, in its gravest class.
    """
    tallies: list[Tally] = []
    classes: list[str] = []
    faults: list[str] = []
    for part in parts:
        if tally := counts.of_class(part.name, stage):
            tallies.append(tally)
            continue
        by_fault = [(fault, counts.of_fault(fault, stage)) for fault in part.faults]
        tallies += [tally for _, tally in by_fault if tally]
        lacking = [fault for fault, tally in by_fault if tally is None]
        if len(lacking) == len(by_fault):
            classes.append(part.name)
        else:
            faults += lacking
    if not tallies:
        return NONE_INSPECTED
    return NotCounted(classes, faults) if classes or faults else _combined(tallies, counting)


def _combined(tallies: Sequence[Tally], counting: Counting) -> InspectionCounts:
    """Several counts as one."""
    numbers = sorted({tally.number for tally in tallies})
    listed = [tally.by_package for tally in tallies if tally.by_package is not None]
    if len(listed) == len(tallies):
        drawn = [_in_package(places, counting) for places in zip(*listed, strict=False)]
        return InspectionCounts(len(drawn), len(drawn), sum(drawn), drawn, numbers)
    found = [(tally.nonconforming if counting == "packages" else tally.occurrences) or 0 for tally in tallies]
    least_inspected = min(tally.inspected for tally in tallies)
    # Where nothing was found on more packages, nothing was on the fewer of another count either.
    finding = [tally.inspected for tally, number in zip(tallies, found, strict=True) if number]
    return InspectionCounts(least_inspected, max([least_inspected, *finding]), sum(found), None, numbers)


def _in_package(occurrences: Iterable[int], counting: Counting) -> int:
    total = sum(occurrences)
    return min(total, 1) if counting == "packages" else total


def name_flaws(names: Sequence[str], at: str) -> Iterator[Flaw]:
    """Each name once."""
    for number, name in enumerate(names):
        if name in names[:number]:
            text = f"{quoted(name)} stands in the list already. Leave it out here."
            yield Flaw("name-twice", text, f"{at}/{number}")
