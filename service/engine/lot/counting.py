"""What was counted on a lot: of each class and fault by stage, ready for requirements to ask, or every flaw in it."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from typing import Literal, NamedTuple

from msgspec import UnsetType

from service.engine.documents import (
    Amount,
    Counted,
    Evidence,
    Flaw,
    Quantity,
    counted,
    did_you_mean,
    listed,
    number_flaws,
    quoted,
)
from service.engine.numbers import amount_unit_flaws, in_base_unit, quantity_of

Sort = Literal["class", "fault"]
FIRST, SECOND = 1, 2
MOST_LISTED = 20


class CountsNeeded(NamedTuple):
    """What a requirement asks to be counted of one class or fault."""

    sort: Sort
    name: str
    needs: Sequence[str]
    """The members of a count of which one has to be given."""
    rule: str
    """Pointer to where the grade asks for it."""
    of_class: str = ""
    """For a fault that is counted on packages, the class that it belongs to."""
    quantity: Quantity | None = None
    """For a fault that is counted on an amount, whether that is a length or a mass."""


class Tally(NamedTuple):
    """What was counted of one class or fault in one stage."""

    number: int
    """Of the count in the evidence."""
    inspected: int
    """Packages looked over; 0 where nothing was, or only a length or a mass."""
    nonconforming: int | None
    occurrences: int | None
    by_package: Sequence[int] | None
    """Occurrences in each package, in the order in which they were drawn."""
    looked_at: Fraction | None
    """The length in metres, or the mass in kilograms, that was looked at."""
    quantity: Quantity | None
    """Which of the two."""


class Counts(NamedTuple):
    """All tallies of a lot by what was counted, its name, and the stage."""

    by_key: Mapping[tuple[Sort, str, int], Tally]

    @property
    def second(self) -> Sequence[tuple[Sort, str, int]]:
        """The sort, the name and the number in the evidence of each count of a second stage."""
        return [(sort, name, tally.number) for (sort, name, stage), tally in self.by_key.items() if stage == SECOND]

    def without_second(self) -> "Counts":
        """Those of the first stage."""
        return Counts({key: tally for key, tally in self.by_key.items() if key[2] == FIRST})

    def of_class(self, name: str, stage: int) -> Tally | None:
        """Of a class in a stage; None where nothing was looked over."""
        return self._looked_over("class", name, stage)

    def of_fault(self, name: str, stage: int) -> Tally | None:
        """Of a fault in a stage; None where no package was looked over."""
        return self._looked_over("fault", name, stage)

    def on_amount(self, fault: str, quantity: Quantity) -> Tally | None:
        """Of a fault on a length, or on a mass; None where none was looked at."""
        found = self.by_key.get(("fault", fault, FIRST))
        return found if found and found.looked_at is not None and found.quantity == quantity else None

    def _looked_over(self, sort: Sort, name: str, stage: int) -> Tally | None:
        found = self.by_key.get((sort, name, stage))
        return found if found and found.inspected else None


def counts_of(evidence: Evidence) -> Counts:
    """The counts of evidence without flaws."""
    found: dict[tuple[Sort, str, int], Tally] = {}
    for number, each in enumerate(evidence.counts or ()):
        found[_key(each)] = _tally(number, each)
    return Counts(found)


def _key(document: Counted) -> tuple[Sort, str, int]:
    stage = document.stage or FIRST
    return ("class", document.class_, stage) if document.class_ else ("fault", document.fault or "", stage)


def _tally(number: int, document: Counted) -> Tally:
    """Of one count; packages that are listed tell the rest."""
    amount = document.looked_at or None
    looked_at, quantity = (in_base_unit(amount), quantity_of(amount)) if amount else (None, None)
    if isinstance(document.by_package, UnsetType):
        nonconforming = None if isinstance(document.nonconforming, UnsetType) else document.nonconforming
        occurrences = None if isinstance(document.occurrences, UnsetType) else document.occurrences
        return Tally(number, document.inspected or 0, nonconforming, occurrences, None, looked_at, quantity)
    each = document.by_package
    return Tally(number, len(each), _nonconforming(each), sum(each), each, looked_at, quantity)


def _nonconforming(by_package: Sequence[int]) -> int:
    return sum([occurrences > 0 for occurrences in by_package])


def count_flaws(evidence: Evidence, asked: Iterable[CountsNeeded]) -> Iterator[Flaw]:
    """What is wrong with the counts of a lot.

    asked  by all requirements of the grade
    """
    by_name: dict[tuple[Sort, str], list[CountsNeeded]] = {}
    for each in asked:
        by_name.setdefault((each.sort, each.name), []).append(each)
    first: dict[tuple[Sort, str, int], int] = {}
    for number, document in enumerate(evidence.counts or ()):
        at = f"/counts/{number}"
        if bool(document.class_) == bool(document.fault):
            yield Flaw("class-or-fault", "A count is of a `class` or of a `fault`. Give one of the two.", at)
            continue
        key = _key(document)
        if key in first:
            text = f"{quoted(key[1])} is counted at /counts/{first[key]} already, in the same stage. Put both into one."
            yield Flaw("counted-twice", text, f"{at}/{key[0]}")
        first.setdefault(key, number)
        yield from _count_flaws(document, key, by_name, at)
    yield from _together_flaws(evidence, by_name, first)


def _count_flaws(
    document: Counted, key: tuple[Sort, str, int], by_name: Mapping[tuple[Sort, str], Sequence[CountsNeeded]], at: str
) -> Iterator[Flaw]:
    """What is wrong with one count by itself."""
    sort, name, _ = key
    if (sort, name) not in by_name:
        yield _unknown(sort, name, [other for its_sort, other in by_name if its_sort == sort], at)
    elif numbers := list(_number_flaws(document, at)):
        yield from numbers
    else:
        yield from _needs_flaws(document, by_name[sort, name], at)


def _unknown(sort: Sort, name: str, known: Sequence[str], at: str) -> Flaw:
    """The grade knows no such class or fault."""
    remedy = f" It has {listed(known[:MOST_LISTED], 'and')}." if known else " Leave the count out."
    text = f"The grade has no {sort} {quoted(name)}.{did_you_mean(name, known) or remedy}"
    return Flaw("unknown-class" if sort == "class" else "unknown-fault", text, f"{at}/{sort}")


def _number_flaws(document: Counted, at: str) -> Iterator[Flaw]:
    """The numbers of one count agree with each other."""
    inspected, nonconforming, occurrences = document.inspected, document.nonconforming, document.occurrences
    if not isinstance(document.by_package, UnsetType):
        yield from _listed_flaws(document, document.by_package, at)
    elif isinstance(nonconforming, UnsetType):
        if isinstance(occurrences, UnsetType):
            text = "Nothing is counted here. Give `nonconforming`, `occurrences` or `by_package`; 0 where nothing was found."
            yield Flaw("nothing-counted", text, at)
        elif occurrences and inspected == 0:
            text = f"{counted(occurrences, 'occurrence')} on 0 packages can't be. Correct one of the two."
            yield Flaw("more-than-inspected", text, f"{at}/occurrences")
    else:
        if not isinstance(inspected, UnsetType) and nonconforming > inspected:
            text = f"{nonconforming} nonconforming of {counted(inspected, 'package')} can't be. Correct one of the two."
            yield Flaw("more-than-inspected", text, f"{at}/nonconforming")
        if not isinstance(occurrences, UnsetType):
            yield from _occurrences_flaws(occurrences, nonconforming, at)


def _occurrences_flaws(occurrences: int, nonconforming: int, at: str) -> Iterator[Flaw]:
    """Each nonconforming package has an occurrence, and each occurrence is in one of them."""
    if occurrences < nonconforming:
        text = (
            f"{nonconforming} nonconforming packages have at least one occurrence each, and {occurrences} are given. "
            "Correct one of the two."
        )
        yield Flaw("fewer-than-nonconforming", text, f"{at}/occurrences")
    if occurrences and not nonconforming:
        text = f"{counted(occurrences, 'occurrence')} in 0 nonconforming packages can't be. Correct one of the two."
        yield Flaw("occurrences-without-packages", text, f"{at}/occurrences")


def _listed_flaws(document: Counted, by_package: Sequence[int], at: str) -> Iterator[Flaw]:
    """The numbers beside listed packages are what the list comes to."""
    come_to = (
        ("inspected", document.inspected, len(by_package)),
        ("nonconforming", document.nonconforming, _nonconforming(by_package)),
        ("occurrences", document.occurrences, sum(by_package)),
    )
    for name, given, number in come_to:
        if not isinstance(given, UnsetType) and given != number:
            text = f"The packages listed come to {number}, and {given} is given. Correct it, or leave it out."
            yield Flaw("by-package-differs", text, f"{at}/{name}")


def _needs_flaws(document: Counted, asked: Sequence[CountsNeeded], at: str) -> Iterator[Flaw]:
    """What the requirements ask for is given: on packages, on a length or mass, or on both."""
    is_of_packages = not (isinstance(document.inspected, UnsetType) and isinstance(document.by_package, UnsetType))
    amount = document.looked_at
    if not is_of_packages and isinstance(amount, UnsetType):
        ways = ["looked_at"] if all(each.quantity for each in asked) else ["inspected", "by_package"]
        text = f"On how much this was counted is not told. Give {listed(ways)}."
        yield Flaw("nothing-looked-over", text, at, asked[0].rule)
    for each in asked:
        if not (is_of_packages if each.quantity is None else amount):
            continue
        if all(isinstance(getattr(document, need), UnsetType) for need in each.needs):
            yield Flaw("count-not-given", f"The grade asks for {listed(each.needs)} here. Give it.", at, each.rule)
    if not isinstance(amount, UnsetType):
        yield from _amount_flaws(amount, asked, f"{at}/looked_at")


def _amount_flaws(amount: Amount, asked: Sequence[CountsNeeded], at: str) -> Iterator[Flaw]:
    """What was looked at is a length or a mass, as the grade's rate is of one."""
    quantities = list(dict.fromkeys(each.quantity for each in asked if each.quantity))
    if quantities:
        what = f"the rate is of a {' or a '.join(quantities)}"
        yield from amount_unit_flaws(amount, quantities, what, at)
        yield from number_flaws(amount.value, f"{at}/value")
    else:
        text = "The grade counts this on packages, not on a length or a mass. Leave `looked_at` out."
        yield Flaw("looked-at-not-here", text, at, asked[0].rule)


def _together_flaws(
    evidence: Evidence, by_name: Mapping[tuple[Sort, str], Sequence[CountsNeeded]], first: Mapping[tuple[Sort, str, int], int]
) -> Iterator[Flaw]:
    """What does not fit together: more packages than the lot has, a second stage alone, a class and its faults."""
    tallies = {key: _inspected((evidence.counts or ())[number]) for key, number in first.items()}
    for (sort, name, stage), number in first.items():
        at, before = f"/counts/{number}", tallies.get((sort, name, FIRST), 0) if stage == SECOND else 0
        inspected = tallies[sort, name, stage] + before
        if evidence.lot.size and inspected > evidence.lot.size:
            both = " in both stages" if before else ""
            text = f"{inspected} packages are looked over{both}, and the lot has {evidence.lot.size}. Correct one of the two."
            yield Flaw("more-than-lot", text, at)
        classes = [each.of_class for each in by_name.get((sort, name), ()) if each.of_class]
        if stage == SECOND and (sort, name, FIRST) not in first:
            others = [(*each, FIRST) for each in _other_ways(sort, name, by_name)]
            told_otherwise = min((first[each] for each in others if tallies.get(each)), default=None)
            yield Flaw("stage-without-first", _no_first(sort, name, told_otherwise), f"{at}/stage")
        if tallies[sort, name, stage] and (told := [each for each in classes if ("class", each, stage) in first]):
            other = first["class", told[0], stage]
            text = f"{quoted(name)} belongs to {quoted(told[0])}, which is counted at /counts/{other}. Leave one of them out."
            yield Flaw("counted-in-two-ways", text, f"{at}/fault")


def _other_ways(sort: Sort, name: str, by_name: Mapping[tuple[Sort, str], Sequence[CountsNeeded]]) -> list[tuple[Sort, str]]:
    """The faults that a class may be told by, or the classes that a fault may be told in."""
    if sort == "fault":
        return [("class", each.of_class) for each in by_name.get((sort, name), ()) if each.of_class]
    return [key for key, asked in by_name.items() if any(each.of_class == name for each in asked)]


def _no_first(sort: Sort, name: str, told_otherwise: int | None) -> str:
    """Why a second stage has no first one.

    told_otherwise  the count where the first stage of the class is told by its faults, or that of the fault by its class
    """
    if told_otherwise is None:
        return f"There is a second stage of {quoted(name)} and no first one. Give the first, or leave `stage` out."
    first, this = ("fault by fault", "as a whole") if sort == "class" else ("as part of its class", "by itself")
    return (
        f"The first stage of {quoted(name)} is counted {first}, at /counts/{told_otherwise}, and this one {this}. "
        "Count both stages in the same way: the class as a whole, or each of its faults."
    )


def _inspected(document: Counted) -> int:
    return (document.inspected or 0) if isinstance(document.by_package, UnsetType) else len(document.by_package)
