"""The standing of a lot: the outcome of each requirement by the evidence so far, and which outcomes have changed."""

from collections.abc import Mapping, Sequence

from msgspec import UNSET, Struct, UnsetType

from service.engine.documents import Finding, Flaw, FlawedDocumentError, Missing, Outcome
from service.engine.grade import CompiledGrade
from service.engine.judging import judge_prepared, prepared_evidence
from service.engine.ledger import LotHistory
from service.engine.requirements import EachRule, Rule


class RequirementStanding(Struct, frozen=True):
    """The outcome of a requirement by the evidence so far."""

    requirement: str
    outcome: Outcome
    missing: Sequence[Missing] | UnsetType = UNSET
    """What its sample still lacks."""
    can_pass: bool | UnsetType = UNSET
    """False if no further reading can make it pass; else left out."""


class Standing(Struct, frozen=True):
    """The standing of a lot after a number of changes."""

    changes: int
    revision: int
    evidence: str
    """Digest of the evidence."""
    requirements: Mapping[str, RequirementStanding]
    moved: Sequence[RequirementStanding]
    """Requirements that differ from the previous standing."""
    flaws: Sequence[Flaw] = ()
    """Flaws of the evidence as a whole, which no single batch shows."""


NO_STANDING = Standing(0, 0, "", {}, ())


def current_standing(folded: LotHistory, grade: CompiledGrade) -> Standing:
    """Return the current standing, calculated once for each change of the lot and cached with its history."""
    known = folded.standing if isinstance(folded.standing, Standing) else NO_STANDING
    if (known.changes, known.revision) != (folded.changes, folded.revision):
        known = standing_of(folded, grade, known)
        # With its size, which counts in the memory that the lot takes.
        folded.stand(known, len(known.requirements))
    return known


def standing_of(folded: LotHistory, grade: CompiledGrade, before: Standing) -> Standing:
    """Judge the lot and return its standing, with the differences from `before`."""
    lot, previous = prepared_evidence(folded.evidence()), before.requirements
    try:
        findings = judge_prepared(grade, lot, UNSET, UNSET).findings
    except FlawedDocumentError as error:
        return Standing(folded.changes, folded.revision, lot.digest, previous, (), error.flaws)
    now = {each.requirement: _standing(each, rule) for each, rule in zip(findings, grade.requirements, strict=True)}
    moved = [each for name, each in now.items() if each != previous.get(name)]
    return Standing(folded.changes, folded.revision, lot.digest, now, moved)


def _standing(finding: Finding, rule: Rule) -> RequirementStanding:
    """Return the standing of one requirement."""
    can_pass = False if finding.outcome == Outcome.FAIL and _is_final(rule) else UNSET
    return RequirementStanding(finding.requirement, finding.outcome, finding.missing, can_pass)


def _is_final(rule: Rule) -> bool:
    """True if a failure can't be undone by further readings."""
    # A number of readings allowed outside stays exceeded; means, percentages and second samples may recover.
    return isinstance(rule, EachRule) and rule.over == "readings" and rule.allowed_percent is None and rule.limits is None
