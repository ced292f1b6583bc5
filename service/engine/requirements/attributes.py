"""The kind `attributes` compiled: packages are inspected, and nonconforming ones or occurrences of faults are counted.

Source: MIL-STD-105E, 4.11 and Tables II to IV, for acceptance and rejection numbers, double plans and the gap of reduced plans.
"""

from collections.abc import Iterator, Sequence

from msgspec import UNSET, UnsetType
from msgspec.structs import replace

from service.engine.documents import (
    Draw,
    Finding,
    MeasuredValue,
    Missing,
    Outcome,
    Reason,
    ResolvedLimits,
    Undrawn,
    counted,
    listed,
    packages_in_words,
    plural_of,
    quoted,
)
from service.engine.lot import FIRST, SECOND, CountsNeeded, Lot
from service.engine.requirements.attributes_document import Attributes, RetestOfCounts, faults_by_class
from service.engine.requirements.grade_context import GradeContext
from service.engine.requirements.inspection_counts import (
    NONE_INSPECTED,
    CountedClass,
    Counting,
    InspectionCounts,
    NotCounted,
    inspection_counts,
)
from service.engine.requirements.rules import Rule, common_fields
from service.engine.sampling import (
    AttributesPlan,
    CodeLetter,
    LotSize,
    NoPlan,
    Sample,
    Stage,
)


class AttributesRule(Rule, frozen=True, kw_only=True):
    """A compiled requirement of the kind `attributes`."""

    counted_classes: Sequence[CountedClass]
    """The requirement's own class first, then the graver classes that it includes."""
    counting: Counting
    sample: Sample
    at_most: int | None
    retest: RetestOfCounts | None = None
    sample_pointer: str
    accept_pointer: str
    stage: int = FIRST
    """The stage of the counts that are its first sample: 1, or 2 where only the retest's sample is judged."""
    joint_retest: RetestOfCounts | None = None
    """The retest that is judged together with the first sample; None for the first sample alone."""

    @property
    def class_name(self) -> str:
        """The name of the requirement's own class."""
        return self.counted_classes[0].name

    @property
    def fault_names(self) -> Sequence[str]:
        """The faults of the requirement's own class."""
        return self.counted_classes[0].faults

    @property
    def asked(self) -> Sequence[CountsNeeded]:
        """The counts that can be sent: one for each class, or one for each fault of it."""
        # Two faults may be in one package, so counts of packages fault by fault can only be added up package by package.
        needs = ("nonconforming" if self.counting == "packages" else "occurrences", "by_package")
        several = (
            [class_.name for class_ in self.counted_classes if len(class_.faults) > 1] if self.counting == "packages" else []
        )
        classes = [
            CountsNeeded("class", class_.name, needs, self.pointer, package=self.package) for class_ in self.counted_classes
        ]
        faults = [
            CountsNeeded(
                "fault", fault, needs[1:] if class_.name in several else needs, self.pointer, class_.name, self.package
            )
            for class_ in self.counted_classes
            for fault in class_.faults
        ]
        return (*classes, *faults)

    def draws(self, lot: LotSize) -> Iterator[Draw | Undrawn]:
        """The packages to inspect, one draw for each stage."""
        return self.draws_by_attributes(self.plan(lot), self.sample_pointer)

    def plan(self, lot: LotSize) -> AttributesPlan | NoPlan:
        """The plan for a lot of this size, or why there is none; two samples that are judged together make a double plan."""
        lot = self.seen(lot)
        plan = self.sample.attributes_plan(lot, self.at_most)
        if self.joint_retest is None or isinstance(plan, NoPlan):
            return plan
        other = self.joint_retest.sample.attributes_plan(lot, self.joint_retest.at_most or 0)
        if isinstance(other, NoPlan):
            return other
        last = other.stages[0]
        # No accept number at the first stage: both samples decide together, and the first one has failed already.
        return AttributesPlan((Stage(plan.stages[0].packages, None, last.reject), last))

    def is_double(self, lot: Lot) -> bool:
        """True where the sampling plan itself is a double one."""
        return isinstance(self.sample, CodeLetter) and self.sample.scheme == "double"

    def calls_for_second(self, lot: Lot) -> bool:
        """True where the plan is double and the first sample does not decide, or where there is no plan for the lot."""
        plan = self.plan(lot.sizes)
        if isinstance(plan, NoPlan):
            return self.is_double(lot)
        # By the first sample alone: the counts of a second one must not decide whether it was needed.
        first = lot._replace(counts=lot.counts.without_second())
        return len(plan.stages) > 1 and self.judge(first).outcome is Outcome.UNDECIDED

    def retest_rule(self) -> "AttributesRule":
        """The rule that judges the retest, by the second sample alone or by both together; `retest` must not be None."""
        retest = self.retest
        assert retest
        pointer = f"{self.pointer}/retest"
        if retest.judge == "together":
            return replace(self, joint_retest=retest, accept_pointer=f"{pointer}/at_most")
        if retest.sample.accepts_by:
            accept_pointer = f"{pointer}/sample"
        else:
            accept_pointer = self.accept_pointer if retest.at_most is UNSET else f"{pointer}/at_most"
        return replace(
            self,
            sample=retest.sample,
            at_most=self.retest_accept_number(retest),
            stage=SECOND,
            sample_pointer=f"{pointer}/sample",
            accept_pointer=accept_pointer,
        )

    def retest_accept_number(self, retest: RetestOfCounts) -> int | None:
        """The accept number of the retest, else that of the requirement; None where the second sample's plan has its own."""
        if retest.sample.accepts_by:
            return None
        return self.at_most if isinstance(retest.at_most, UnsetType) else retest.at_most

    def judge(self, lot: Lot) -> Finding:
        """Pass, fail, or undecided while the sample is short or a second one is needed."""
        plan = self.plan(lot.sizes)
        if isinstance(plan, NoPlan):
            return self._undecided(Reason(plan.code, plan.text, {}, self.sample_pointer, (), 0), UNSET)
        previous = NONE_INSPECTED
        for number, stage in enumerate(plan.stages):
            counts = inspection_counts(lot.counts, self.counted_classes, self.counting, self.stage + number)
            if isinstance(counts, NotCounted):
                return self._undecided(self._not_counted(counts), limits_of(stage), self._packages_to_count(counts, stage))
            if number and counts is NONE_INSPECTED:
                return self._second_needed(previous, plan.stages[number - 1], stage)
            planned, total = previous.least_inspected + stage.packages, previous.with_next(counts.first(stage.packages))
            code = stage_code(total, planned, stage)
            if code != "between":
                return self._finding(code, total, planned, stage)
            previous = total
        # Only a reduced plan has a gap between Ac and Re at its last stage: it accepts, and normal inspection follows.
        return self._finding("accepted-in-gap", previous, previous.least_inspected, plan.stages[-1])

    def _finding(self, code: str, counts: InspectionCounts, planned: int, stage: Stage) -> Finding:
        """The finding for the code of a stage, by `stage_code`.

        planned  how many packages the plan takes up to this stage
        """
        if code == "packages-missing":
            return self._missing(counts, planned, stage)
        if code == "more-than-plan":
            return self._undecided(self._more_than_plan(counts, planned, stage), limits_of(stage))
        measured = MeasuredValue(
            statistic="nonconforming" if self.counting == "packages" else "occurrences",
            value=counts.found,
            unit="1",
            packages=counts.least_inspected,
        )
        outcome = Outcome.FAIL if code == "more-than-accepted" else Outcome.PASS
        # In the gap the lot is accepted above Ac, so there is no distance from Ac that would agree with the outcome.
        margin = UNSET if code == "accepted-in-gap" else _margin(stage, counts.found)
        return self.finding(outcome, [self._decided(code, counts, stage)], limits_of(stage), measured, margin)

    def _undecided(
        self, reason: Reason, limits: ResolvedLimits | UnsetType, missing: Sequence[Missing] | UnsetType = UNSET
    ) -> Finding:
        return self.finding(Outcome.UNDECIDED, [reason], limits, missing=missing)

    def _counts_text(self, counts: InspectionCounts) -> str:
        """The start of a sentence: `3 of 80 packages are nonconforming in class `major``."""
        name, packages = quoted(self.class_name), packages_in_words(counts.least_inspected, self.package)
        if self.counting == "occurrences":
            return f"{counted(counts.found, 'occurrence')} of class {name} {_verb(counts.found)} found on {packages}"
        return f"{counts.found} of {packages} {_verb(counts.found)} nonconforming in class {name}"

    def _parameters(self, counts: InspectionCounts, stage: Stage) -> dict[str, object]:
        accept = {} if stage.accept is None else {"accept": stage.accept}
        return {
            "class": self.class_name,
            "value": counts.found,
            "packages": counts.least_inspected,
            **accept,
            "reject": stage.reject,
        }

    def _decided(self, code: str, counts: InspectionCounts, stage: Stage) -> Reason:
        """The reason of a finding that passes or fails."""
        found, parameters, at = self._counts_text(counts), self._parameters(counts, stage), counts.at
        text = f"{found}{_allowed_text(stage, counts.found)}."
        if code == "accepted-in-gap":
            text = (
                f"{found}, more than the accept number {stage.accept} and fewer than the reject number {stage.reject}. "
                "The lot is accepted. Inspect the next one under `normal` inspection."
            )
        return Reason(code, text, parameters, self.accept_pointer, at.first, at.total)

    def _missing(self, counts: InspectionCounts, planned: int, stage: Stage) -> Finding:
        """The undecided finding while fewer packages were inspected than the plan takes."""
        missing = [Missing(class_=self.class_name, packages=planned - counts.least_inspected)]
        what = packages_in_words(planned - counts.least_inspected, self.package, more=True)
        text = f"Still to inspect for class {quoted(self.class_name)}: {what}; the plan takes {planned}."
        parameters: dict[str, object] = {"missing": missing, "inspected": counts.least_inspected, "packages": planned}
        reason = Reason("packages-missing", text, parameters, self.sample_pointer, counts.at.first, counts.at.total)
        return self._undecided(reason, limits_of(stage), missing)

    def _second_needed(self, counts: InspectionCounts, first: Stage, second: Stage) -> Finding:
        """The undecided finding where the first sample neither accepts nor rejects and no second one was sent."""
        missing = [Missing(class_=self.class_name, packages=second.packages)]
        text = (
            f"{self._counts_text(counts)}, which neither accepts nor rejects the lot. "
            f"Draw a second sample of {packages_in_words(second.packages, self.package)} and send its counts as `stage` 2."
        )
        parameters = {**self._parameters(counts, first), "draw": second.packages}
        reason = Reason("second-sample-needed", text, parameters, self.sample_pointer, counts.at.first, counts.at.total)
        return self._undecided(reason, limits_of(first), missing)

    def _more_than_plan(self, counts: InspectionCounts, planned: int, stage: Stage) -> Reason:
        """The reason where more packages were inspected than planned and it is not stated which were drawn first."""
        text = (
            f"{self._counts_text(counts)}, and the plan takes {planned}. Which were drawn first is not given. "
            f"List the {plural_of(self.package)} in `by_package`, in the order drawn."
        )
        parameters = {**self._parameters(counts, stage), "wanted": planned}
        return Reason("more-than-plan", text, parameters, self.sample_pointer, counts.at.first, counts.at.total)

    def _packages_to_count(self, uncounted: NotCounted, stage: Stage) -> list[Missing]:
        """The packages of the stage, once for each class of which something was not counted."""
        names = (
            class_.name
            for class_ in self.counted_classes
            if class_.name in uncounted.classes or not set(uncounted.faults).isdisjoint(class_.faults)
        )
        return [Missing(class_=name, packages=stage.packages) for name in names]

    def _not_counted(self, uncounted: NotCounted) -> Reason:
        """The reason where classes or faults of the requirement were not counted."""
        classes, faults = uncounted
        what = [f"class{'es' if len(classes) > 1 else ''} {listed(classes, 'and')}"] if classes else []
        what += [f"fault{'s' if len(faults) > 1 else ''} {listed(faults, 'and')}"] if faults else []
        text = f"Not counted: {' and '.join(what)}. Send a count of each; 0 where nothing was found."
        parameters = {"classes": classes, "faults": faults}
        return Reason("not-all-counted", text, parameters, self.pointer, (), 0)


def stage_code(counts: InspectionCounts, planned: int, stage: Stage) -> str:
    """The code of the reason that a stage gives; `between` where it neither accepts nor rejects.

    counts   of all stages up to this one, together
    planned  how many packages the plan takes up to this stage
    """
    # First, as no further package lowers a count: a lot can fail before its sample is complete, and never pass.
    if counts.found >= stage.reject and counts.most_inspected <= planned:
        return "more-than-accepted"
    if counts.least_inspected < planned:
        return "packages-missing"
    if stage.accept is not None and counts.found <= stage.accept:
        return "no-more-than-accepted"
    return "more-than-plan" if counts.most_inspected > planned else "between"


def limits_of(stage: Stage) -> ResolvedLimits:
    """The accept and reject numbers of a stage, as a finding reports them."""
    return ResolvedLimits(accept=UNSET if stage.accept is None else stage.accept, reject=stage.reject)


def _margin(stage: Stage, found: int) -> float:
    """The accept number less the number found; negative where there are too many."""
    return float((stage.reject - 1 if stage.accept is None else stage.accept) - found)


def _allowed_text(stage: Stage, found: int) -> str:
    """What the plan allows, after the number found: `, and at most 1 may be`; `; 4 or more reject the lot`."""
    if stage.accept is not None and stage.reject == stage.accept + 1:
        return ", and none may be" if stage.accept == 0 else f", and at most {stage.accept} may be"
    # Between the accept and the reject number lies a gap, so the one that was reached decides.
    if found >= stage.reject or stage.accept is None:
        return f"; {stage.reject} or more reject the lot"
    return f"; {stage.accept} or fewer accept the lot" if stage.accept else "; none accepts the lot"


def _verb(number: int) -> str:
    return "is" if number == 1 else "are"


def compiled(document: Attributes, context: GradeContext, pointer: str) -> AttributesRule:
    """The compiled requirement; `document` has no flaws, and `pointer` is its place in the specification."""
    by_class = faults_by_class(context)
    others = [CountedClass(name, by_class[name]) for name in document.includes or ()]
    is_given = not isinstance(document.at_most, UnsetType)
    return AttributesRule(
        counted_classes=[CountedClass(document.class_, document.faults or ()), *others],
        counting=document.counting or "packages",
        sample=document.sample,
        at_most=None if isinstance(document.at_most, UnsetType) else document.at_most,
        retest=document.retest or None,
        sample_pointer=f"{pointer}/sample",
        accept_pointer=f"{pointer}/at_most" if is_given else f"{pointer}/sample",
        **common_fields(document, pointer, context.package),
    )
