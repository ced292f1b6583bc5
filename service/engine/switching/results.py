"""The results of a verdict for the switching rules: acceptance of the lot in each class whose plan is from a table."""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from service.engine.documents import Finding, Outcome
from service.engine.requirements import AttributesRule, CompiledRequirement, PlanK, VariablesRule
from service.engine.sampling import CodeLetter, LotSize
from service.engine.switching.following import Inspected


class Subject(NamedTuple):
    """A class that is counted, or a requirement by variables; each has inspection switched separately."""

    sort: str
    """`class` or `requirement`, as in the `inspections` of evidence."""
    name: str


def results_of(
    requirements: Sequence[CompiledRequirement],
    findings: Sequence[Finding],
    lot: str,
    size: LotSize,
    *,
    resubmitted: bool = False,
) -> Mapping[Subject, Inspected]:
    """The results of the lot, by class or requirement; those that are not decided are left out.

    requirements  of the grade
    findings      one a requirement, in their order
    size          of the lot, as stated in the evidence that was judged
    resubmitted   True where the lot was presented again after it had not been accepted

    Where several requirements count one class, the lot is accepted in it if all of them accept.
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
    """All classes and requirements of a grade that are switched separately, once each, in its order."""
    return list(dict.fromkeys(subject for each in requirements if (subject := _subject(each))))


def _subject(requirement: CompiledRequirement) -> Subject | None:
    """The class or requirement that is switched with this one; None where its plan is not from a table."""
    # Only plans by code letter have tables for normal, tightened and reduced inspection.
    if isinstance(requirement, AttributesRule) and isinstance(requirement.sample, CodeLetter):
        return Subject("class", requirement.class_name)
    if isinstance(requirement, VariablesRule) and isinstance(requirement.origin, PlanK):
        return Subject("requirement", requirement.id) if isinstance(requirement.origin.sample, CodeLetter) else None
    return None


def _is_decided(finding: Finding) -> bool:
    """True where original inspection decided. If it called for a retest it had rejected the lot, so that counts as decided."""
    return finding.outcome is not Outcome.UNDECIDED or _is_retested(finding)


def _is_accepted(finding: Finding) -> bool:
    """True where original inspection accepted the lot, without a retest."""
    return finding.outcome is Outcome.PASS and not _is_retested(finding)


def _is_retested(finding: Finding) -> bool:
    # Where a retest decided, its reason is always the first one.
    return finding.reasons[0].code == "retested"
