"""What a verdict says to switching: of each class whose plan is of a table that switches, whether the lot was accepted."""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from service.engine.documents import Finding, Outcome
from service.engine.requirements import AttributesRule, CompiledRequirement, PlanK, VariablesRule
from service.engine.sampling import CodeLetter, LotSize
from service.engine.switching.following import Inspected


class Subject(NamedTuple):
    """What is switched by itself: a class that is counted, or a requirement by variables."""

    sort: str
    """`class` or `requirement`, as evidence tells its inspection."""
    name: str


def results_of(
    requirements: Sequence[CompiledRequirement],
    findings: Sequence[Finding],
    lot: str,
    size: LotSize,
    *,
    resubmitted: bool = False,
) -> Mapping[Subject, Inspected]:
    """What became of the lot in each class that switches; a class that is not decided is left out.

    findings  one a requirement, in their order
    size      of the lot, as told in the evidence that was judged

    Where several requirements count one class, the lot is accepted in it where all of them accept.
    """
    found: dict[Subject, list[tuple[CompiledRequirement, Finding]]] = {}
    for requirement, finding in zip(requirements, findings, strict=True):
        if subject := _subject(requirement):
            found.setdefault(subject, []).append((requirement, finding))
    return {
        subject: Inspected(
            lot=lot,
            inspection=pairs[0][0].seen(size).inspection,
            accepted=all(_is_accepted(finding) for _, finding in pairs),
            in_gap=any(reason.code == "accepted-in-gap" for _, finding in pairs for reason in finding.reasons),
            resubmitted=resubmitted,
        )
        for subject, pairs in found.items()
        if all(_is_decided(finding) for _, finding in pairs)
    }


def subjects_of(requirements: Sequence[CompiledRequirement]) -> list[Subject]:
    """All that is switched by itself in a grade, once each, in its order."""
    return list(dict.fromkeys(subject for each in requirements if (subject := _subject(each))))


def _subject(requirement: CompiledRequirement) -> Subject | None:
    """What its plan is switched as; None where its plan is of no table."""
    if isinstance(requirement, AttributesRule) and isinstance(requirement.sample, CodeLetter):
        return Subject("class", requirement.class_name)
    if isinstance(requirement, VariablesRule) and isinstance(requirement.origin, PlanK):
        return Subject("requirement", requirement.id) if isinstance(requirement.origin.sample, CodeLetter) else None
    return None


def _is_decided(finding: Finding) -> bool:
    """Whether original inspection decided; where a retest follows it, it has rejected."""
    return finding.outcome is not Outcome.UNDECIDED or _is_retested(finding)


def _is_accepted(finding: Finding) -> bool:
    """On original inspection: a lot that only a retest passed was rejected on it."""
    return finding.outcome is Outcome.PASS and not _is_retested(finding)


def _is_retested(finding: Finding) -> bool:
    return finding.reasons[0].code == "retested"
