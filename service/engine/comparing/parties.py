"""Two sides' evidence on one lot → their findings, requirement by requirement, and the differences in the evidence."""

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
    """The findings of both sides on these requirements, in the order of `names`.

    grade   the revision by which both verdicts were made
    theirs  None where the other side gave no evidence
    names   ids of requirements that the grade has
    """
    rules = {rule.id: rule for rule in grade.requirements}
    by_us = _by_requirement(ours)
    if theirs is None:
        return [Compared(name, by_us[name]) for name in names]
    by_them, both = _by_requirement(theirs), BothParties(ours, theirs)
    return [Compared(name, by_us[name], by_them[name], list(_of_requirement(rules[name], both))) for name in names]


def differing(grade: CompiledGrade, sides: BothParties, names: Sequence[str]) -> list[Divergence]:
    """The differences that concern the lot as a whole, and are reported with none of the requirements of these names."""
    ours, theirs = sides.ours.evidence, sides.theirs.evidence
    reported = {source.name for rule in grade.requirements if rule.id in names for source in rule.sources}
    others = [characteristic for name, characteristic in grade.characteristics.items() if name not in reported]
    # Digests of evidence include every value and id, so equal ones need no comparison.
    if sides.ours.verdict.evidence == sides.theirs.verdict.evidence:
        return [Divergence("same-evidence", "The evidence of both sides is the same, reading by reading.")]
    return [
        *lots_differ(ours.lot, theirs.lot),
        *chain.from_iterable(declarations_differ(ours, theirs, each) for each in others if each.quantity == "category"),
        *chain.from_iterable(only_one_measured(ours, theirs, each) for each in others if each.name in MOISTURE),
    ]


def _by_requirement(side: Party) -> dict[str, Finding]:
    return {finding.requirement: finding for finding in side.verdict.findings}


def _of_requirement(rule: Rule, sides: BothParties) -> Iterator[Divergence]:
    """The differences in readings, declarations, counts and dates on which a requirement depends."""
    ours, theirs = sides.ours.evidence, sides.theirs.evidence
    # Limits may be calculated from a characteristic that the requirement is on anyway; it is reported once.
    for source in _once(rule.sources):
        yield from declarations_differ(ours, theirs, source)
        if source.quantity != "category" and not source.derived:
            yield from readings_differ(ours, theirs, source)
    yield from counts_differ(ours, theirs, rule.asked)
    yield from dates_differ(ours, theirs, rule.events)


def _once(sources: Sequence[CompiledCharacteristic]) -> list[CompiledCharacteristic]:
    return list({source.name: source for source in sources}.values())
