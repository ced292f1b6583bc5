"""The counts of a lot by class or fault and by stage, in a form that requirements can query, or all flaws in them."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from typing import Literal, NamedTuple

from msgspec import UnsetType

from service.engine.documents import (
    PACKAGE,
    Amount,
    Counted,
    Evidence,
    Flaw,
    Quantity,
    counted,
    did_you_mean,
    listed,
    number_flaws,
    plural_of,
    quoted,
)
from service.engine.numbers import amount_text, amount_unit_flaws, in_base_unit, quantity_of

Sort = Literal["class", "fault"]
FIRST, SECOND = 1, 2
MOST_LISTED = 20
"""Known names are listed in a flaw up to this number."""


class CountsNeeded(NamedTuple):
    """What a requirement needs to have counted of one class or fault."""

    sort: Sort
    name: str
    needs: Sequence[str]
    """Members of a count, at least one of which has to be given."""
    rule: str
    """JSON Pointer into the specification, to the requirement that needs the count."""
    of_class: str = ""
    """For a fault that is counted on packages, the class that it belongs to; else ""."""
    package: str = PACKAGE
    """The grade's word for a package."""
    quantity: Quantity | None = None
    """For a fault that is counted on an amount: length or mass. None for a count on packages."""


class Tally(NamedTuple):
    """The count of one class or fault in one stage."""

    number: int
    """Index of the count in the evidence, from 0."""
    inspected: int
    """Number of packages inspected; 0 where none were, or where a length or a mass was inspected instead."""
    nonconforming: int | None
    occurrences: int | None
    by_package: Sequence[int] | None
    """Occurrences in each package, in the order drawn; None where packages were not listed."""
    looked_at: Fraction | None
    """The inspected length in metres or mass in kilograms; None for a count on packages."""
    quantity: Quantity | None
    """Whether `looked_at` is a length or a mass."""
    sent: str = ""
    """The inspected amount as it was sent: `150 lb`; empty for a count on packages."""


class Counts(NamedTuple):
    """All tallies of a lot, by (class or fault, name, stage)."""

    by_key: Mapping[tuple[Sort, str, int], Tally]

    @property
    def second(self) -> Sequence[tuple[Sort, str, int]]:
        """(class or fault, name, index in the evidence) of each count of a second stage."""
        return [(sort, name, tally.number) for (sort, name, stage), tally in self.by_key.items() if stage == SECOND]

    def without_second(self) -> "Counts":
        """The same lot with the tallies of the first stage only."""
        return Counts({key: tally for key, tally in self.by_key.items() if key[2] == FIRST})

    def of_class(self, name: str, stage: int) -> Tally | None:
        """The tally of a class in a stage; None where no package was inspected."""
        return self._on_packages("class", name, stage)

    def of_fault(self, name: str, stage: int) -> Tally | None:
        """The tally of a fault in a stage; None where no package was inspected."""
        return self._on_packages("fault", name, stage)

    def on_amount(self, fault: str, quantity: Quantity) -> Tally | None:
        """The tally of a fault on a length or on a mass; None where none was inspected."""
        # Rates have no retest, so an amount is read from the first stage only.
        tally = self.by_key.get(("fault", fault, FIRST))
        return tally if tally and tally.looked_at is not None and tally.quantity == quantity else None

    def _on_packages(self, sort: Sort, name: str, stage: int) -> Tally | None:
        tally = self.by_key.get((sort, name, stage))
        return tally if tally and tally.inspected else None


def counts_of(evidence: Evidence) -> Counts:
    """The counts of evidence in which `count_flaws` found none."""
    return Counts({_key(document): _tally(number, document) for number, document in enumerate(evidence.counts or ())})


def _key(document: Counted) -> tuple[Sort, str, int]:
    stage = document.stage or FIRST
    return ("class", document.class_, stage) if document.class_ else ("fault", document.fault or "", stage)


def _tally(number: int, document: Counted) -> Tally:
    """The tally of one count; where packages are listed, all its numbers are calculated from the list."""
    amount = document.looked_at or None
    looked_at, quantity, sent = (in_base_unit(amount), quantity_of(amount), amount_text(amount)) if amount else (None, None, "")
    if isinstance(document.by_package, UnsetType):
        nonconforming = None if isinstance(document.nonconforming, UnsetType) else document.nonconforming
        occurrences = None if isinstance(document.occurrences, UnsetType) else document.occurrences
        return Tally(number, document.inspected or 0, nonconforming, occurrences, None, looked_at, quantity, sent)
    # `count_flaws` has compared the numbers given beside the list with the list, so these are the same.
    by_package = document.by_package
    nonconforming = _nonconforming(by_package)
    return Tally(number, len(by_package), nonconforming, sum(by_package), by_package, looked_at, quantity, sent)


def _nonconforming(by_package: Sequence[int]) -> int:
    return sum([occurrences > 0 for occurrences in by_package])


def count_flaws(evidence: Evidence, needed: Iterable[CountsNeeded]) -> Iterator[Flaw]:
    """The flaws in the counts of a lot, with pointers into the evidence.

    needed  the counts that all requirements of the grade need
    """
    by_name: dict[tuple[Sort, str], list[CountsNeeded]] = {}
    for need in needed:
        by_name.setdefault((need.sort, need.name), []).append(need)
    first: dict[tuple[Sort, str, int], int] = {}
    for number, document in enumerate(evidence.counts or ()):
        at = f"/counts/{number}"
        if bool(document.class_) == bool(document.fault):
            yield Flaw("class-or-fault", "A count is of a `class` or of a `fault`. Give one of the two.", at)
            continue
        key = _key(document)
        if key in first:
            text = f"{quoted(key[1])} is already counted at /counts/{first[key]}, in the same stage. Put both into one."
            yield Flaw("counted-twice", text, f"{at}/{key[0]}")
        first.setdefault(key, number)
        yield from _count_flaws(document, key, by_name, at)
    # Checks across counts come last: they need the place of every count, and a second stage may precede its first.
    yield from _consistency_flaws(evidence, by_name, first)


def _count_flaws(
    document: Counted, key: tuple[Sort, str, int], by_name: Mapping[tuple[Sort, str], Sequence[CountsNeeded]], at: str
) -> Iterator[Flaw]:
    """The flaws of one count, without regard to the other counts."""
    sort, name, _ = key
    if (sort, name) not in by_name:
        yield _unknown(sort, name, [other for its_sort, other in by_name if its_sort == sort], at)
    elif numbers := list(_number_flaws(document, at)):
        # Numbers that contradict each other end the check: which of them the caller meant decides what else is needed.
        yield from numbers
    else:
        yield from _needs_flaws(document, by_name[sort, name], at)


def _unknown(sort: Sort, name: str, known: Sequence[str], at: str) -> Flaw:
    """The flaw of a count of a class or fault that the grade does not have."""
    if not known:
        text = f"This grade has no {'classes of defects' if sort == 'class' else 'faults'}. Remove the count."
    else:
        remedy = did_you_mean(name, known) or f" It has {listed(known[:MOST_LISTED], 'and')}."
        text = f"The grade has no {sort} {quoted(name)}.{remedy}"
    return Flaw("unknown-class" if sort == "class" else "unknown-fault", text, f"{at}/{sort}")


def _number_flaws(document: Counted, at: str) -> Iterator[Flaw]:
    """The flaws where numbers of one count contradict each other, or where it has none."""
    inspected, nonconforming, occurrences = document.inspected, document.nonconforming, document.occurrences
    if not isinstance(document.by_package, UnsetType):
        yield from _listed_flaws(document, document.by_package, at)
    elif isinstance(nonconforming, UnsetType):
        if isinstance(occurrences, UnsetType):
            text = "Nothing is counted here. Give `nonconforming`, `occurrences` or `by_package`; 0 where nothing was found."
            yield Flaw("nothing-counted", text, at)
        elif occurrences and inspected == 0:
            text = f"{counted(occurrences, 'occurrence')} cannot be on 0 packages. Correct one of the two."
            yield Flaw("more-than-inspected", text, f"{at}/occurrences")
    else:
        if not isinstance(inspected, UnsetType) and nonconforming > inspected:
            text = f"{nonconforming} of {counted(inspected, 'package')} cannot be nonconforming. Correct one of the two."
            yield Flaw("more-than-inspected", text, f"{at}/nonconforming")
        if not isinstance(occurrences, UnsetType):
            yield from _occurrences_flaws(occurrences, nonconforming, at)


def _occurrences_flaws(occurrences: int, nonconforming: int, at: str) -> Iterator[Flaw]:
    """The flaws where occurrences and nonconforming packages contradict: each package has one, each one is in a package."""
    if occurrences < nonconforming:
        text = (
            f"{nonconforming} nonconforming packages have at least one occurrence each, and {occurrences} "
            f"{'is' if occurrences == 1 else 'are'} given. Correct one of the two."
        )
        yield Flaw("fewer-than-nonconforming", text, f"{at}/occurrences")
    if occurrences and not nonconforming:
        text = f"{counted(occurrences, 'occurrence')} cannot be in 0 nonconforming packages. Correct one of the two."
        yield Flaw("occurrences-without-packages", text, f"{at}/occurrences")


def _listed_flaws(document: Counted, by_package: Sequence[int], at: str) -> Iterator[Flaw]:
    """The flaws where numbers beside listed packages differ from those calculated from the list."""
    calculated = (
        ("inspected", document.inspected, len(by_package)),
        ("nonconforming", document.nonconforming, _nonconforming(by_package)),
        ("occurrences", document.occurrences, sum(by_package)),
    )
    for name, given, number in calculated:
        if not isinstance(given, UnsetType) and given != number:
            text = f"By the packages listed it is {number}, and {given} is given. Correct it, or remove it."
            yield Flaw("by-package-differs", text, f"{at}/{name}")


def _needs_flaws(document: Counted, needed: Sequence[CountsNeeded], at: str) -> Iterator[Flaw]:
    """The flaws where a member that requirements need is left out: on packages, on a length or mass, or on both."""
    is_of_packages = not (isinstance(document.inspected, UnsetType) and isinstance(document.by_package, UnsetType))
    amount = document.looked_at
    if not is_of_packages and isinstance(amount, UnsetType):
        ways = ["looked_at"] if all(need.quantity for need in needed) else ["inspected", "by_package"]
        text = f"How much was inspected is not given. Give {listed(ways)}."
        yield Flaw("nothing-looked-over", text, at, needed[0].rule)
    for need in needed:
        # One fault may be counted on packages and on a length by two requirements: each asks of its own part only.
        if not (is_of_packages if need.quantity is None else amount):
            continue
        if all(isinstance(getattr(document, member), UnsetType) for member in need.needs):
            yield Flaw("count-not-given", _not_given_text(need), at, need.rule)
    if not isinstance(amount, UnsetType):
        yield from _amount_flaws(amount, needed, f"{at}/looked_at")


def _not_given_text(need: CountsNeeded) -> str:
    """What to send for a requirement that counts packages or occurrences, in a sentence."""
    word = need.package
    if "nonconforming" in need.needs:
        return f"How many {plural_of(word)} are nonconforming is not given. Give {listed(need.needs)}."
    if "occurrences" in need.needs:
        return f"How many faults were found is not given. Give {listed(need.needs)}."
    return f"Say in `by_package` how many faults each {word} had, so that a {word} with two counts once."


def _amount_flaws(amount: Amount, needed: Sequence[CountsNeeded], at: str) -> Iterator[Flaw]:
    """The flaws of an inspected amount that is of another quantity than the grade's rate, or that no rate needs."""
    quantities = list(dict.fromkeys(need.quantity for need in needed if need.quantity))
    if quantities:
        what = f"the grade counts this on a {' or a '.join(quantities)}"
        yield from amount_unit_flaws(amount, quantities, what, at)
        yield from number_flaws(amount.value, f"{at}/value")
    else:
        text = "The grade counts this on packages, not on a length or a mass. Remove `looked_at`."
        yield Flaw("looked-at-not-here", text, at, needed[0].rule)


def _consistency_flaws(
    evidence: Evidence, by_name: Mapping[tuple[Sort, str], Sequence[CountsNeeded]], first: Mapping[tuple[Sort, str, int], int]
) -> Iterator[Flaw]:
    """Flaws across counts: more packages than the lot has, a second stage without a first, a class beside its own faults."""
    sizes = {key: _inspected((evidence.counts or ())[number]) for key, number in first.items()}
    for (sort, name, stage), number in first.items():
        # The stages are drawn without replacement, so together they cannot exceed the lot.
        at, before = f"/counts/{number}", sizes.get((sort, name, FIRST), 0) if stage == SECOND else 0
        inspected = sizes[sort, name, stage] + before
        if evidence.lot.size and inspected > evidence.lot.size:
            both = " in both stages" if before else ""
            text = f"{inspected} packages were inspected{both}, and the lot has {evidence.lot.size}. Correct one of the two."
            yield Flaw("more-than-lot", text, at)
        classes = [need.of_class for need in by_name.get((sort, name), ()) if need.of_class]
        if stage == SECOND and (sort, name, FIRST) not in first:
            others = [(*key, FIRST) for key in _other_ways(sort, name, by_name)]
            counted_otherwise = min((first[key] for key in others if sizes.get(key)), default=None)
            yield Flaw("stage-without-first", _no_first(sort, name, counted_otherwise), f"{at}/stage")
        # A class counted as a whole and fault by fault would count the same packages twice.
        if sizes[sort, name, stage] and (also := [class_ for class_ in classes if ("class", class_, stage) in first]):
            other = first["class", also[0], stage]
            text = f"{quoted(name)} belongs to {quoted(also[0])}, which is counted at /counts/{other}. Remove one of the two."
            yield Flaw("counted-in-two-ways", text, f"{at}/fault")


def _other_ways(sort: Sort, name: str, by_name: Mapping[tuple[Sort, str], Sequence[CountsNeeded]]) -> list[tuple[Sort, str]]:
    """The faults by which a class may be counted instead, or the classes in which a fault may be counted."""
    if sort == "fault":
        return [("class", need.of_class) for need in by_name.get((sort, name), ()) if need.of_class]
    return [key for key, needed in by_name.items() if any(need.of_class == name for need in needed)]


def _no_first(sort: Sort, name: str, counted_otherwise: int | None) -> str:
    """The text of a flaw: a second stage without a first.

    counted_otherwise  index of the count that has the first stage of the class by its faults, or of the fault by its class;
                       None where there is none
    """
    if counted_otherwise is None:
        return f"There is a second stage of {quoted(name)} and no first one. Give the first, or remove `stage`."
    first, this = ("fault by fault", "as a whole") if sort == "class" else ("as part of its class", "by itself")
    return (
        f"The first stage of {quoted(name)} is counted {first}, at /counts/{counted_otherwise}, and this one {this}. "
        "Count both stages in the same way: the class as a whole, or each of its faults."
    )


def _inspected(document: Counted) -> int:
    return (document.inspected or 0) if isinstance(document.by_package, UnsetType) else len(document.by_package)
