"""The counts of one stage of inspection for a requirement: its own class and the classes that it includes, added up."""

from collections.abc import Iterable, Iterator, Sequence
from typing import Literal, NamedTuple

from service.engine.characteristics import Pointers
from service.engine.documents import MOST_POINTERS, Flaw, quoted
from service.engine.lot import Counts, Tally

Counting = Literal["packages", "occurrences"]
"""What is counted: nonconforming packages, each once; or every occurrence, of which a package may have several."""


class CountedClass(NamedTuple):
    """A class that a requirement counts, and the faults of the class, which may be counted one by one instead."""

    name: str
    faults: Sequence[str]


class InspectionCounts(NamedTuple):
    """What was found on the inspected packages."""

    least_inspected: int
    """How many packages were inspected for every class and fault."""
    most_inspected: int
    """The most packages that were inspected for any class or fault of which something was found."""
    found: int
    by_package: Sequence[int] | None
    """What each package adds to `found`, in the order drawn; None where not all packages are listed."""
    numbers: Sequence[int]
    """The indexes of the counts in the evidence, ascending."""

    @property
    def at(self) -> Pointers:
        """Pointers to the counts in the evidence."""
        return Pointers([f"/counts/{number}" for number in self.numbers[:MOST_POINTERS]], len(self.numbers))

    def first(self, packages: int) -> "InspectionCounts":
        """The counts of the first so many packages drawn; unchanged where packages are not listed, or are no more than that."""
        if self.by_package is None or len(self.by_package) <= packages:
            return self
        drawn = self.by_package[:packages]
        return InspectionCounts(packages, packages, sum(drawn), drawn, self.numbers)

    def with_next(self, following: "InspectionCounts") -> "InspectionCounts":
        """The counts of this stage and the following one together."""
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
    """Classes and faults that were not counted while others of the requirement were."""

    classes: Sequence[str]
    faults: Sequence[str]


def inspection_counts(
    counts: Counts, counted_classes: Sequence[CountedClass], counting: Counting, stage: int
) -> InspectionCounts | NotCounted:
    """The counts of a stage, NONE_INSPECTED where nothing was inspected, or what is missing from them.

    A nonconforming package counts once. Where every count lists its packages they are combined package by package, so that
    one package with two faults is one package. Where they do not, the numbers are added, which is right where each package
    was counted once, in its gravest class.
    """
    tallies: list[Tally] = []
    classes: list[str] = []
    faults: list[str] = []
    for class_ in counted_classes:
        if tally := counts.of_class(class_.name, stage):
            tallies.append(tally)
            continue
        by_fault = [(fault, counts.of_fault(fault, stage)) for fault in class_.faults]
        tallies += [tally for _, tally in by_fault if tally]
        uncounted = [fault for fault, tally in by_fault if tally is None]
        if len(uncounted) == len(by_fault):
            classes.append(class_.name)
        else:
            faults += uncounted
    if not tallies:
        return NONE_INSPECTED
    return NotCounted(classes, faults) if classes or faults else _combined(tallies, counting)


def _combined(tallies: Sequence[Tally], counting: Counting) -> InspectionCounts:
    """Several counts combined into one."""
    numbers = sorted({tally.number for tally in tallies})
    listed = [tally.by_package for tally in tallies if tally.by_package is not None]
    if len(listed) == len(tallies):
        # Not strict: packages beyond the shortest list were not inspected for everything, so they are no complete packages.
        drawn = [_in_package(places, counting) for places in zip(*listed, strict=False)]
        return InspectionCounts(len(drawn), len(drawn), sum(drawn), drawn, numbers)
    found = [(tally.nonconforming if counting == "packages" else tally.occurrences) or 0 for tally in tallies]
    least_inspected = min(tally.inspected for tally in tallies)
    # Without the counts that found nothing: nothing on more packages is nothing on the fewer that the plan takes.
    finding = [tally.inspected for tally, number in zip(tallies, found, strict=True) if number]
    return InspectionCounts(least_inspected, max([least_inspected, *finding]), sum(found), None, numbers)


def _in_package(occurrences: Iterable[int], counting: Counting) -> int:
    total = sum(occurrences)
    return min(total, 1) if counting == "packages" else total


def name_flaws(names: Sequence[str], at: str) -> Iterator[Flaw]:
    """Each name is in the list once."""
    for number, name in enumerate(names):
        if name in names[:number]:
            text = f"{quoted(name)} is already in the list. Remove it here."
            yield Flaw("name-twice", text, f"{at}/{number}")
