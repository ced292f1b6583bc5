"""Where a lot stands: each of its requirements as the evidence so far decides it, and which of them have moved."""

from collections.abc import Mapping, Sequence

from msgspec import UNSET, Struct, UnsetType

from service.engine.documents import Finding, Flaw, FlawedDocumentError, Missing, Outcome
from service.engine.grade import CompiledGrade
from service.engine.judging import judge_prepared, prepared_evidence
from service.engine.ledger import LotHistory
from service.engine.requirements import EachRule, Rule


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


def current_standing(folded: LotHistory, grade: CompiledGrade) -> Standing:
    """Where the lot stands, worked out once for all who ask after the same change, and what has moved since it was last."""
    known = folded.standing if isinstance(folded.standing, Standing) else NOTHING
    if (known.changes, known.revision) != (folded.changes, folded.revision):
        known = standing_of(folded, grade, known)
        folded.stand(known, len(known.requirements))
    return known


def standing_of(folded: LotHistory, grade: CompiledGrade, before: Standing) -> Standing:
    """Where the lot stands, and what has moved since it stood as `before`."""
    lot, was = prepared_evidence(folded.evidence()), before.requirements
    try:
        findings = judge_prepared(grade, lot, UNSET, UNSET).findings
    except FlawedDocumentError as error:
        return Standing(folded.changes, folded.revision, lot.digest, was, (), error.flaws)
    now = {each.requirement: _standing(each, rule) for each, rule in zip(findings, grade.requirements, strict=True)}
    moved = [each for name, each in now.items() if each != was.get(name)]
    return Standing(folded.changes, folded.revision, lot.digest, now, moved)


def _standing(finding: Finding, rule: Rule) -> RequirementStanding:
    """Of one requirement."""
    can_pass = False if finding.outcome == Outcome.FAIL and _is_final(rule) else UNSET
    return RequirementStanding(finding.requirement, finding.outcome, finding.missing, can_pass)


def _is_final(rule: Rule) -> bool:
    """A count of readings that may be outside, once exceeded, stays so; means, percentages and further samples can mend."""
    return isinstance(rule, EachRule) and rule.over == "readings" and rule.allowed_percent is None and rule.limits is None
