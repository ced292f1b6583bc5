"""Where a lot stands: each of its requirements as the evidence so far decides it, and which of them have moved.

Of an ordinary lot a requirement is judged again only where what it rests on has grown since. Nobody says beforehand what that
is; it is noted as it is asked for. A finding is made of the requirement and the lot alone: where the size of the lot is the
same, and so are the readings of all that was asked for, it comes out the same.
"""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from msgspec import UNSET, Struct, UnsetType

from service.engine.compilation import CompiledGrade
from service.engine.evidence import Evidence
from service.engine.flaws import Flaw, FlawedDocumentError
from service.engine.judging import Given, given, judge_given
from service.engine.ledger import Folded
from service.engine.ledger.growing import Growing, Ready
from service.engine.lots import Readings
from service.engine.requirements.each import EachRule
from service.engine.requirements.retesting import findings_of
from service.engine.requirements.rules import Rule
from service.engine.sampling import LotSize
from service.engine.verdict import Finding, Missing, Outcome


class RequirementStanding(Struct, frozen=True):
    """A requirement as the evidence so far decides it."""

    requirement: str
    outcome: Outcome
    missing: Sequence[Missing] | UnsetType = UNSET
    """How much more its sample needs."""
    can_pass: bool | UnsetType = UNSET
    """False where nothing that still comes could make it pass; else left out."""


class Basis(NamedTuple):
    """What the requirements of an ordinary lot were judged by."""

    sizes: LotSize
    counts: Mapping[str, int]
    """How many readings there were, by characteristic; those of one lot only come behind each other."""
    asked: Mapping[str, frozenset[str]]
    """By requirement, the characteristics whose readings it asked for, whether there were any or not."""


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
    basis: Basis | None = None
    """None where that is not known."""


ALL = ""
"""Stands for every characteristic; none has this name."""
ANY: frozenset[str] = frozenset({ALL})
"""Where nothing is known of before, anything may have grown."""
NOTHING = Standing(0, 0, "", {}, ())


def standing_of(folded: Folded, grade: CompiledGrade, before: Standing) -> Standing:
    """Where the lot stands, and what has moved since it stood as `before`."""
    evidence = folded.evidence()
    ready = None if grade.derived else _ready(folded, grade, evidence)
    if ready is None:
        return standing_anew(folded, grade, given(evidence), before)
    sizes, readings = ready.lot.sizes, ready.lot.by_characteristic
    counts = {name: each.count for name, each in readings.items()}
    known = before.basis if before.revision == folded.revision else None
    grown = _grown(known, counts) if known and known.sizes == sizes else ANY
    now, asked = (dict(before.requirements), dict(known.asked)) if known else ({}, {})
    for rule in grade.requirements:
        if grown is ANY or not grown.isdisjoint(asked[rule.id]):
            noting = Asked(readings)
            finding = findings_of([rule], ready.lot._replace(by_characteristic=noting))[0]
            now[rule.id], asked[rule.id] = _standing(finding, rule), frozenset(noting.names)
    moved = _moved(before, now)
    return Standing(folded.changes, folded.revision, ready.digest, now, moved, (), Basis(sizes, counts, asked))


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


def _grown(before: Basis, counts: Mapping[str, int]) -> frozenset[str]:
    """The characteristics of which more readings have come, and ALL where there is one."""
    grown = frozenset(name for name, count in counts.items() if before.counts.get(name) != count)
    return grown | ANY if grown else grown


def _ready(folded: Folded, grade: CompiledGrade, evidence: Evidence) -> Ready | None:
    """The lot, where it is an ordinary one."""
    growing = folded.growing
    if not isinstance(growing, Growing) or growing.characteristics is not grade.characteristics:
        growing = folded.growing = Growing(grade.characteristics)
    return growing.ready(folded, evidence)


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
    return [each for name, each in now.items() if before.requirements.get(name) != each]


def _standing(finding: Finding, rule: Rule) -> RequirementStanding:
    """Of one requirement."""
    can_pass = False if finding.outcome == Outcome.FAIL and _is_final(rule) else UNSET
    return RequirementStanding(finding.requirement, finding.outcome, finding.missing, can_pass)


def _is_final(rule: Rule) -> bool:
    """A count of readings that may be outside, once exceeded, stays so; means, percentages and further samples can mend."""
    return isinstance(rule, EachRule) and rule.over == "readings" and rule.allowed_percent is None and rule.limits is None
