"""Second samples: when one is allowed or required, and the finding on it, alone or together with the first sample."""

from collections.abc import Iterator, Sequence
from typing import TypeVar

from msgspec.structs import replace

from service.engine.documents import Finding, Flaw, FlawedDocumentError, Outcome, Reason, counted, packages_in_words, quoted
from service.engine.lot import SECOND, Lot
from service.engine.requirements.attributes import AttributesRule
from service.engine.requirements.documents import Retest
from service.engine.requirements.inspection_counts import NONE_INSPECTED, inspection_counts
from service.engine.requirements.kinds import CompiledRequirement
from service.engine.requirements.measuring import MeasuredRule
from service.engine.requirements.quality import PlanK
from service.engine.requirements.rules import CharacteristicRule
from service.engine.requirements.variables import VariablesRule
from service.engine.sampling import NoPlan, SampleSize, size_of

M = TypeVar("M", bound=MeasuredRule)
DECIDES = {"second": "the second sample decides alone", "together": "both samples decide together"}


def findings_of(requirements: Sequence[CompiledRequirement], lot: Lot) -> list[Finding]:
    """One finding for each requirement, in their order: on the first sample, or on the retest where the first has failed.

    Raises FlawedDocumentError where a second sample was sent that no requirement needs.
    """
    # Nearly no lot has second samples: one comparison, and the usual lot is judged as if there were none.
    is_staged = lot.second is not None or bool(lot.counts.by_key and lot.counts.second)
    judged = _first_finding if is_staged else _finding_of
    findings = [judged(requirement, lot) for requirement in requirements]
    if is_staged and (flaws := list(_uncalled_for_flaws(requirements, findings, lot))):
        raise FlawedDocumentError(flaws)
    if Outcome.FAIL not in [finding.outcome for finding in findings]:
        return findings
    return [
        _retested(requirement, requirement.retest, finding, lot)
        if requirement.retest and finding.outcome is Outcome.FAIL
        else finding
        for requirement, finding in zip(requirements, findings, strict=True)
    ]


def _first_finding(requirement: CompiledRequirement, lot: Lot) -> Finding:
    """The finding on the first sample; on both where the plan is double and the first sample does not decide."""
    return _finding_of(requirement, lot.pooled() if lot.second and requirement.calls_for_second(lot) else lot)


def _finding_of(requirement: CompiledRequirement, lot: Lot) -> Finding:
    """The finding on a lot; undecided while readings that it needs are in doubt."""
    # Doubts before the rule, so that no kind needs to know of them, and an unusable reading beats what it would prove.
    finding = (requirement.doubtful_finding(lot) if lot.doubts else None) or requirement.judge(lot)
    if finding.outcome is not Outcome.UNDECIDED or finding.missing:
        return finding
    # Whatever keeps it undecided, an incomplete sample is reported: a lot with `missing` waits, one without is closed.
    missing = requirement.missing(lot)
    return replace(finding, missing=missing) if missing else finding


def _retested(requirement: CompiledRequirement, retest: Retest, first: Finding, lot: Lot) -> Finding:
    """The finding on the retest; before its sample is sent, the failure of the first sample with what to draw."""
    pointer = f"{requirement.pointer}/retest"
    retested = _retest_finding(requirement, retest, lot)
    if retested is None:
        return replace(first, reasons=[*first.reasons, _retest_allowed_reason(requirement, retest, lot)])
    text = f"The first sample failed, and {DECIDES[retest.judge]}."
    at, at_total = first.reasons[0].at, first.reasons[0].at_total
    return replace(
        retested, reasons=[Reason("retested", text, {"judge": retest.judge}, pointer, at, at_total), *retested.reasons]
    )


def _retest_finding(requirement: CompiledRequirement, retest: Retest, lot: Lot) -> Finding | None:
    """The finding on the second sample, alone or with the first; None where no second sample was sent."""
    if isinstance(requirement, AttributesRule):
        counts = inspection_counts(lot.counts, requirement.counted_classes, requirement.counting, SECOND)
        return None if counts is NONE_INSPECTED else _finding_of(requirement.retest_rule(), lot)
    if not isinstance(requirement, MeasuredRule) or lot.second is None:
        return None
    if not any(name in lot.second.series for name in _judged_characteristics(requirement)):
        return None
    alone, second = with_retest_sample(requirement, retest), lot.of_second()
    if retest.judge == "second":
        return _finding_of(alone, second)
    # One side of a quotient may not have been sent yet, and then there is nothing to pool.
    if requirement.of.derived and any(second.readings(source) is None for source in requirement.of.sources):
        return _finding_of(alone, second)
    return _finding_of(replace(requirement, second_sample=retest.sample, sample_pointer=alone.sample_pointer), lot.pooled())


def with_retest_sample(requirement: M, retest: Retest) -> M:
    """The requirement with the retest's sample in place of its own, and with that sample's k where k is of the plan."""
    pointer = f"{requirement.pointer}/retest/sample"
    alone = replace(requirement, sample=retest.sample, sample_pointer=pointer)
    if isinstance(alone, VariablesRule) and isinstance(alone.origin, PlanK):
        return replace(alone, origin=PlanK(retest.sample, pointer))
    return alone


def _retest_allowed_reason(requirement: CompiledRequirement, retest: Retest, lot: Lot) -> Reason:
    """The reason that says what to draw for the retest, or why no number can be given."""
    size, pointer = _retest_size(requirement, retest, lot), f"{requirement.pointer}/retest"
    if isinstance(size, NoPlan):
        return Reason("retest-allowed", f"A retest is allowed. {size.text}", {"judge": retest.judge}, pointer, (), 0)
    each = f", {counted(size.readings_per_package, 'reading')} each," if isinstance(requirement, MeasuredRule) else ""
    package = requirement.of.package if isinstance(requirement, MeasuredRule) else requirement.package
    text = (
        f"A retest is allowed, in which {DECIDES[retest.judge]}. "
        f"Draw {packages_in_words(size.packages, package)}{each} and send them as `stage` 2."
    )
    readings = {"readings_per_package": size.readings_per_package} if each else {}
    return Reason("retest-allowed", text, {"judge": retest.judge, "packages": size.packages, **readings}, pointer, (), 0)


def _retest_size(requirement: CompiledRequirement, retest: Retest, lot: Lot) -> SampleSize | NoPlan:
    """How many packages the second sample has, and how many readings of each; NoPlan where the plan gives no size."""
    if isinstance(requirement, AttributesRule):
        plan = requirement.retest_rule().plan(lot.sizes)
        return plan if isinstance(plan, NoPlan) else SampleSize(plan.stages[-1].packages, 1)
    assert isinstance(requirement, MeasuredRule)
    return size_of(retest.sample, requirement.of.counted(requirement.seen(lot.sizes)))


def _uncalled_for_flaws(requirements: Sequence[CompiledRequirement], findings: Sequence[Finding], lot: Lot) -> Iterator[Flaw]:
    """The flaws of second samples that were sent although no requirement needs them."""
    # Refused, not ignored: whoever could draw again after the first sample has decided would choose the better of two.
    judged = list(zip(requirements, findings, strict=True))
    for name, numbers in lot.second.series.items() if lot.second else ():
        concerned = [pair for pair in judged if name in _judged_characteristics(pair[0])]
        if not any(_is_open(*pair, lot) for pair in concerned):
            for number in numbers:
                yield _not_called_for(name, [each for each, _ in concerned], lot, f"/series/{number}/stage")
    for sort, name, number in lot.counts.second:
        concerned = [pair for pair in judged if any((each.sort, each.name) == (sort, name) for each in pair[0].asked)]
        if not any(_is_open(*pair, lot) for pair in concerned):
            yield _not_called_for(name, [each for each, _ in concerned], lot, f"/counts/{number}/stage")


def _judged_characteristics(requirement: CompiledRequirement) -> Sequence[str]:
    """The names of the characteristics whose readings are judged; without those that only its limits depend on."""
    return [source.name for source in requirement.of.sources] if isinstance(requirement, CharacteristicRule) else ()


def _is_open(requirement: CompiledRequirement, first: Finding, lot: Lot) -> bool:
    """True where a second sample may be sent: for a retest unless the first has passed, else where a double plan needs it."""
    # A first sample that is undecided may still fail, so its retest is not refused.
    if requirement.retest:
        return first.outcome is not Outcome.PASS
    return requirement.calls_for_second(lot)


def _not_called_for(name: str, concerned: Sequence[CompiledRequirement], lot: Lot, at: str) -> Flaw:
    """The flaw of a second sample that is not needed, as the first has decided or as the grade has no second one."""
    with_second = [each for each in concerned if each.retest or each.is_double(lot)]
    if with_second:
        text = f"The first sample has decided on {quoted(name)}, so no second sample is needed. Remove it."
        return Flaw("stage-not-called-for", text, at, with_second[0].pointer)
    text = f"The grade asks for one sample of {quoted(name)} and allows no retest. Remove the second stage."
    return Flaw("stage-not-called-for", text, at)
