"""Where a lot stands: each of its requirements as the evidence so far decides it, and which of them have moved.

Of an ordinary lot a requirement is judged again only where what it rests on has grown since. Nobody says beforehand what that
is; it is noted as it is asked for. A finding is made of the requirement and the lot alone: where all that is told of the lot is
the same, and so are the readings of all that was asked for, it comes out the same. Where a glance shows the outcome no finding
is made, since nobody sees its reasons here.
"""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from msgspec import UNSET, Struct, UnsetType

from service.engine.compilation import CompiledGrade
from service.engine.flaws import Flaw, FlawedDocumentError
from service.engine.judging import Given, given, judge_given
from service.engine.ledger import Folded
from service.engine.ledger.growing import ALL, Growing
from service.engine.lots import Lot
from service.engine.readings import Readings
from service.engine.requirements import CompiledRequirement
from service.engine.requirements.each import EachRule
from service.engine.requirements.measuring import MeasuredRule
from service.engine.requirements.retesting import findings_of
from service.engine.requirements.rules import Rule
from service.engine.verdict import Finding, Missing, Outcome


class RequirementStanding(Struct, frozen=True):
    """A requirement as the evidence so far decides it."""

    requirement: str
    outcome: Outcome
    missing: Sequence[Missing] | UnsetType = UNSET
    """How much more its sample needs."""
    can_pass: bool | UnsetType = UNSET
    """False where nothing that still comes could make it pass; else left out."""


class Standing(Struct, frozen=True):
    """Of a lot after so many changes."""

    changes: int
    revision: int
    evidence: str
    """The digest."""
    requirements: Mapping[str, RequirementStanding]
    moved: Sequence[RequirementStanding]
    """Those that are not as they were before."""
    flaws: Sequence[Flaw] = ()
    """What is wrong with the evidence as a whole, which no batch by itself could show."""


NOTHING = Standing(0, 0, "", {}, ())


def standing_of(folded: Folded, grade: CompiledGrade, before: Standing) -> Standing:
    """Where the lot stands, and what has moved since it stood as `before`, which was asked of the same one."""
    growing = folded.growing
    if not isinstance(growing, Growing) or growing.grade is not grade:
        growing = folded.growing = Growing(grade)
    ready = growing.ready(folded)
    if ready is None:
        return standing_anew(folded, grade, given(folded.evidence()), before)
    grown, asked = growing.grown, growing.asked
    now = dict(before.requirements) if asked else {}
    for rule in grade.requirements:
        if rule.id not in asked or not grown.isdisjoint(asked[rule.id]):
            now[rule.id], asked[rule.id] = stands(rule, ready.lot)
    grown.clear()
    return Standing(folded.changes, folded.revision, ready.digest, now, _moved(before, now))


def stood(folded: Folded, grade: CompiledGrade) -> Standing:
    """Where the lot stands, worked out once for all who ask after the same change."""
    known = folded.standing if isinstance(folded.standing, Standing) else NOTHING
    if (known.changes, known.revision) != (folded.changes, folded.revision):
        known = folded.standing = standing_of(folded, grade, known)
    return known


class Asked(Mapping[str, Readings]):
    """The readings of a lot by characteristic, which notes of what it was asked."""

    def __init__(self, readings: Mapping[str, Readings]) -> None:
        """Of nothing yet."""
        self._readings, self.names = readings, set[str]()

    def __getitem__(self, name: str) -> Readings:
        """Those of a characteristic."""
        self.names.add(name)
        return self._readings[name]

    def get(self, name: str, default: object = None) -> Any:  # noqa: ANN401  as any mapping gives it
        """The same, or the default; the way that is asked most, without an error in between."""
        self.names.add(name)
        return self._readings.get(name, default)

    def __contains__(self, name: object) -> bool:
        """Whether there are some."""
        self.names.add(str(name))
        return name in self._readings

    def __iter__(self) -> Iterator[str]:
        """Whoever asks of which there are, has asked of all that there could be."""
        self.names.add(ALL)
        return iter(self._readings)

    def __len__(self) -> int:
        """As above."""
        self.names.add(ALL)
        return len(self._readings)


def stands(rule: CompiledRequirement, lot: Lot) -> tuple[RequirementStanding, frozenset[str]]:
    """Where a requirement stands in an ordinary lot, and the characteristics whose readings it asked for."""
    if isinstance(rule, MeasuredRule) and (readings := lot.readings(rule.of)) and (seen := rule.glance(readings)):
        missing = [seen.lacking.of(rule.of.name)] if seen.lacking else UNSET
        return RequirementStanding(rule.id, seen.outcome, missing), frozenset([rule.of.name])
    noting = Asked(lot.by_characteristic)
    finding = findings_of([rule], lot._replace(by_characteristic=noting))[0]
    return _standing(finding, rule), frozenset(noting.names)


def standing_anew(folded: Folded, grade: CompiledGrade, lot: Given, before: Standing) -> Standing:
    """The same of any lot, each requirement judged."""
    try:
        findings = judge_given(grade, lot, UNSET, UNSET).findings
    except FlawedDocumentError as error:
        return Standing(folded.changes, folded.revision, lot.digest, before.requirements, (), error.flaws)
    now = {each.requirement: _standing(each, rule) for each, rule in zip(findings, grade.requirements, strict=True)}
    return Standing(folded.changes, folded.revision, lot.digest, now, _moved(before, now))


def _moved(before: Standing, now: Mapping[str, RequirementStanding]) -> Sequence[RequirementStanding]:
    """Those that are not as they were before."""
    was = before.requirements.get
    return [each for name, each in now.items() if each is not (known := was(name)) and each != known]


def _standing(finding: Finding, rule: Rule) -> RequirementStanding:
    """Of one requirement."""
    can_pass = False if finding.outcome == Outcome.FAIL and _is_final(rule) else UNSET
    return RequirementStanding(finding.requirement, finding.outcome, finding.missing, can_pass)


def _is_final(rule: Rule) -> bool:
    """A count of readings that may be outside, once exceeded, stays so; means, percentages and further samples can mend."""
    return isinstance(rule, EachRule) and rule.over == "readings" and rule.allowed_percent is None and rule.limits is None
