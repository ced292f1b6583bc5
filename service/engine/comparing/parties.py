"""Two sides' evidence on one lot → the findings side by side, and where what they rest on differs."""

from collections.abc import Iterator, Sequence
from itertools import chain

from service.engine.characteristics import CompiledCharacteristic
from service.engine.comparing.documents import BothParties, Compared, Divergence, Party
from service.engine.comparing.measuring import MOISTURE, only_one_measured, readings_differ
from service.engine.comparing.statements import counts_differ, dates_differ, declarations_differ, lots_differ
from service.engine.documents import Finding
from service.engine.grade import CompiledGrade
from service.engine.requirements import Rule


def compared(grade: CompiledGrade, ours: Party, theirs: Party | None, names: Sequence[str]) -> list[Compared]:
    """The requirements of these names, which the grade has, in that order.

    grade  the revision that both verdicts are by
    """
    rules = {rule.id: rule for rule in grade.requirements}
    by_us = _by_requirement(ours)
    if theirs is None:
        return [Compared(name, by_us[name]) for name in names]
    by_them, both = _by_requirement(theirs), BothParties(ours, theirs)
    return [Compared(name, by_us[name], by_them[name], list(_of_requirement(rules[name], both))) for name in names]


def differing(grade: CompiledGrade, sides: BothParties, names: Sequence[str]) -> list[Divergence]:
    """What differs for the lot as a whole, and is told of none of the requirements of these names."""
    ours, theirs = sides.ours.evidence, sides.theirs.evidence
    told = {source.name for rule in grade.requirements if rule.id in names for source in rule.sources}
    others = [each for name, each in grade.characteristics.items() if name not in told]
    if sides.ours.verdict.evidence == sides.theirs.verdict.evidence:
        return [Divergence("same-evidence", "Both sides' evidence is the same, reading by reading.")]
    return [
        *lots_differ(ours.lot, theirs.lot),
        *chain.from_iterable(declarations_differ(ours, theirs, each) for each in others if each.quantity == "category"),
        *chain.from_iterable(only_one_measured(ours, theirs, each) for each in others if each.name in MOISTURE),
    ]


def _by_requirement(side: Party) -> dict[str, Finding]:
    return {finding.requirement: finding for finding in side.verdict.findings}


def _of_requirement(rule: Rule, sides: BothParties) -> Iterator[Divergence]:
    """How the readings, declarations, counts and dates differ that a requirement goes by."""
    ours, theirs = sides.ours.evidence, sides.theirs.evidence
    for source in _once(rule.sources):
        yield from declarations_differ(ours, theirs, source)
        if source.quantity != "category" and not source.derived:
            yield from readings_differ(ours, theirs, source)
    yield from counts_differ(ours, theirs, rule.asked)
    yield from dates_differ(ours, theirs, rule.events)


def _once(sources: Sequence[CompiledCharacteristic]) -> list[CompiledCharacteristic]:
    return list({source.name: source for source in sources}.values())
