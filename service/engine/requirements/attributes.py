"""The kind `attributes`: packages are looked over, and so many may be nonconforming, or so many occurrences be found.

Source: MIL-STD-105E, 4.11 and Tables II to IV, for acceptance and rejection numbers, double plans and the gap of reduced plans.
"""

from collections.abc import Iterator, Sequence
from typing import Annotated

from msgspec import UNSET, Meta, UnsetType, field
from msgspec.structs import replace

from service.engine.documents import (
    Draw,
    Finding,
    Flaw,
    MeasuredValue,
    Missing,
    Name,
    Outcome,
    Reason,
    ResolvedLimits,
    Undrawn,
    Whole,
    counted,
    did_you_mean,
    listed,
    quoted,
)
from service.engine.lot import FIRST, SECOND, CountsNeeded, Lot
from service.engine.requirements.documents import Requirement, Retest
from service.engine.requirements.grade_context import GradeContext
from service.engine.requirements.inspection_counts import (
    NONE_INSPECTED,
    Counting,
    InspectionCounts,
    NotCounted,
    Part,
    inspection_counts,
    name_flaws,
)
from service.engine.requirements.rules import Rule, common_fields
from service.engine.sampling import (
    AttributesPlan,
    CodeLetter,
    LotSize,
    NoPlan,
    Sample,
    Stage,
    counting_flaws,
    plan_place_flaws,
    sample_flaws,
)

Names = Annotated[list[Name], Meta(min_length=1, max_length=100)]


class RetestOfCounts(Retest, frozen=True, kw_only=True):
    """A second sample of packages to look over, and the most that it, or both together, may come to."""

    at_most: Whole | UnsetType = UNSET
    """Where the second sample decides alone, that of the requirement where left out."""


class Attributes(Requirement, frozen=True, kw_only=True, tag="attributes"):
    """At most so many packages are nonconforming in a class, or at most so many occurrences of its faults are found."""

    class_: Name = field(name="class")
    faults: Names | UnsetType = UNSET
    """Those that belong to the class. They are counted as the class, or one by one."""
    counting: Counting | UnsetType = UNSET
    """`packages` where left out."""
    sample: Sample
    at_most: Whole | UnsetType = UNSET
    """The accept number, for a sample that has none of its own."""
    includes: Names | UnsetType = UNSET
    """Graver classes whose counts count here too."""
    retest: RetestOfCounts | UnsetType = UNSET


class AttributesRule(Rule, frozen=True, kw_only=True):
    """The same, ready to judge."""

    parts: Sequence[Part]
    """Its own class first."""
    counting: Counting
    sample: Sample
    at_most: int | None
    retest: RetestOfCounts | None = None
    sample_pointer: str
    accept_pointer: str
    stage: int = FIRST
    """Of the counts that are its first sample."""
    joint_retest: RetestOfCounts | None = None
    """The second sample that is judged with the first, where the first has failed."""

    @property
    def class_name(self) -> str:
        """Of the class that it counts."""
        return self.parts[0].name

    @property
    def fault_names(self) -> Sequence[str]:
        """Those of its own class."""
        return self.parts[0].faults

    @property
    def asked(self) -> Sequence[CountsNeeded]:
        """The counts of its classes, or of their faults; two faults may be in one package, so then packages are listed."""
        needs = ("nonconforming" if self.counting == "packages" else "occurrences", "by_package")
        several = [part.name for part in self.parts if len(part.faults) > 1] if self.counting == "packages" else []
        classes = [CountsNeeded("class", part.name, needs, self.pointer) for part in self.parts]
        faults = [
            CountsNeeded("fault", fault, needs[1:] if part.name in several else needs, self.pointer, part.name)
            for part in self.parts
            for fault in part.faults
        ]
        return (*classes, *faults)

    def draws(self, lot: LotSize) -> Iterator[Draw | Undrawn]:
        """The packages to look over, stage by stage."""
        return self.draws_by_attributes(self.plan(lot), self.sample_pointer)

    def plan(self, lot: LotSize) -> AttributesPlan | NoPlan:
        """What its sample comes to for this lot; where two samples are judged together, as a double plan."""
        lot = self.seen(lot)
        plan = self.sample.attributes_plan(lot, self.at_most)
        if self.joint_retest is None or isinstance(plan, NoPlan):
            return plan
        other = self.joint_retest.sample.attributes_plan(lot, self.joint_retest.at_most or 0)
        if isinstance(other, NoPlan):
            return other
        last = other.stages[0]
        return AttributesPlan((Stage(plan.stages[0].packages, None, last.reject), last))

    def is_double(self, lot: Lot) -> bool:
        """True where its plan has a second sample of its own."""
        return isinstance(self.sample, CodeLetter) and self.sample.scheme == "double"

    def calls_for_second(self, lot: Lot) -> bool:
        """True where its plan has a second sample and the first leaves it open, or nobody can tell."""
        plan = self.plan(lot.sizes)
        if isinstance(plan, NoPlan):
            return self.is_double(lot)
        first = lot._replace(counts=lot.counts.without_second())
        return len(plan.stages) > 1 and self.judge(first).outcome is Outcome.UNDECIDED

    def retest_rule(self) -> "AttributesRule":
        """The same as the retest is judged: by the second sample alone, or by both together; it has one."""
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
        """The accept number of its retest: that one's own, else its own; None where the plan of the second sample has one."""
        if retest.sample.accepts_by:
            return None
        return self.at_most if isinstance(retest.at_most, UnsetType) else retest.at_most

    def judge(self, lot: Lot) -> Finding:
        """Pass, fail, or undecided while the sample is short or a second one is needed."""
        plan = self.plan(lot.sizes)
        if isinstance(plan, NoPlan):
            return self._undecided(Reason(plan.code, plan.text, {}, self.sample_pointer, (), 0), UNSET)
        before = NONE_INSPECTED
        for number, stage in enumerate(plan.stages):
            counts = inspection_counts(lot.counts, self.parts, self.counting, self.stage + number)
            if isinstance(counts, NotCounted):
                return self._undecided(self._not_counted(counts), limits_of(stage), self._packages_to_count(counts, stage))
            if number and counts is NONE_INSPECTED:
                return self._second_needed(before, plan.stages[number - 1], stage)
            planned, both = before.least_inspected + stage.packages, before.with_next(counts.first(stage.packages))
            code = stage_code(both, planned, stage)
            if code != "between":
                return self._finding(code, both, planned, stage)
            before = both
        return self._finding("accepted-in-gap", before, before.least_inspected, plan.stages[-1])

    def _finding(self, code: str, counts: InspectionCounts, planned: int, stage: Stage) -> Finding:
        """The finding of a stage that decides, or cannot yet."""
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
        """`3 of 80 packages are nonconforming in class `major``: the start of a sentence."""
        name = quoted(self.class_name)
        if self.counting == "occurrences":
            packages = counted(counts.least_inspected, "package")
            return f"{counted(counts.found, 'occurrence')} of class {name} {_verb(counts.found)} found on {packages}"
        return f"{counts.found} of {counted(counts.least_inspected, 'package')} {_verb(counts.found)} nonconforming in class {name}"

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
        """Why it passes or fails."""
        found, parameters, at = self._counts_text(counts), self._parameters(counts, stage), counts.at
        most = stage.reject - 1 if stage.accept is None else stage.accept
        may = "none may be" if most == 0 else f"at most {most} may be"
        text = f"{found}, and {may}."
        if code == "accepted-in-gap":
            text = (
                f"{found}: above the accept number {most} and below the reject number {stage.reject}. "
                "The lot is accepted, and the next one is inspected as `normal`."
            )
        return Reason(code, text, parameters, self.accept_pointer, at.first, at.total)

    def _missing(self, counts: InspectionCounts, planned: int, stage: Stage) -> Finding:
        """The sample is not complete."""
        lacking = [Missing(class_=self.class_name, packages=planned - counts.least_inspected)]
        what = counted(planned - counts.least_inspected, "package")
        text = f"Still missing: {what} to look over for class {quoted(self.class_name)}; the plan takes {planned}."
        parameters: dict[str, object] = {"missing": lacking, "inspected": counts.least_inspected, "packages": planned}
        reason = Reason("packages-missing", text, parameters, self.sample_pointer, counts.at.first, counts.at.total)
        return self._undecided(reason, limits_of(stage), lacking)

    def _second_needed(self, counts: InspectionCounts, first: Stage, second: Stage) -> Finding:
        """The first sample neither accepts nor rejects."""
        lacking = [Missing(class_=self.class_name, packages=second.packages)]
        text = (
            f"{self._counts_text(counts)}, which neither accepts nor rejects. "
            f"Draw a second sample of {counted(second.packages, 'package')} and send its counts as `stage` 2."
        )
        parameters = {**self._parameters(counts, first), "draw": second.packages}
        reason = Reason("second-sample-needed", text, parameters, self.sample_pointer, counts.at.first, counts.at.total)
        return self._undecided(reason, limits_of(first), lacking)

    def _more_than_plan(self, counts: InspectionCounts, planned: int, stage: Stage) -> Reason:
        """More packages were looked over than the plan takes, and which of them are the plan's is not told."""
        text = (
            f"{self._counts_text(counts)}, and the plan takes {planned}. Which of them were drawn first is not told. "
            "List the packages in the order drawn, in `by_package`."
        )
        parameters = {**self._parameters(counts, stage), "wanted": planned}
        return Reason("more-than-plan", text, parameters, self.sample_pointer, counts.at.first, counts.at.total)

    def _packages_to_count(self, lacking: NotCounted, stage: Stage) -> list[Missing]:
        """The packages of the stage, for each class of which something was not counted on them."""
        names = (
            part.name for part in self.parts if part.name in lacking.classes or not set(lacking.faults).isdisjoint(part.faults)
        )
        return [Missing(class_=name, packages=stage.packages) for name in names]

    def _not_counted(self, lacking: NotCounted) -> Reason:
        """Some of what belongs to the class was counted and some was not."""
        what = [f"class{'es' if len(lacking.classes) > 1 else ''} {listed(lacking.classes, 'and')}"] if lacking.classes else []
        what += [f"fault{'s' if len(lacking.faults) > 1 else ''} {listed(lacking.faults, 'and')}"] if lacking.faults else []
        text = f"Not counted: {' and '.join(what)}. Give a count of each; 0 where nothing was found."
        parameters = {"classes": lacking.classes, "faults": lacking.faults}
        return Reason("not-all-counted", text, parameters, self.pointer, (), 0)


def stage_code(counts: InspectionCounts, planned: int, stage: Stage) -> str:
    """What a stage comes to; `between` where it neither accepts nor rejects.

    look    all packages so far
    wanted  so many packages the plan takes up to here
    """
    if counts.found >= stage.reject and counts.most_inspected <= planned:
        return "more-than-accepted"
    if counts.least_inspected < planned:
        return "packages-missing"
    if stage.accept is not None and counts.found <= stage.accept:
        return "no-more-than-accepted"
    return "more-than-plan" if counts.most_inspected > planned else "between"


def limits_of(stage: Stage) -> ResolvedLimits:
    """As a finding gives them."""
    return ResolvedLimits(accept=UNSET if stage.accept is None else stage.accept, reject=stage.reject)


def _margin(stage: Stage, found: int) -> float:
    """How many more could have been found and still be accepted; negative where there are too many."""
    return float((stage.reject - 1 if stage.accept is None else stage.accept) - found)


def _verb(number: int) -> str:
    return "is" if number == 1 else "are"


def flaws(document: Attributes, context: GradeContext, at: str) -> Iterator[Flaw]:
    """What is wrong with it."""
    yield from _sample_flaws(document.sample, document, f"{at}/sample")
    yield from _accept_flaws(document.sample, document.at_most, at)
    yield from name_flaws(document.faults or (), f"{at}/faults")
    yield from name_flaws(document.includes or (), f"{at}/includes")
    yield from _includes_flaws(document, context, at)
    if document.retest:
        yield from _retest_flaws(document, document.retest, at)


def _sample_flaws(sample: Sample, document: Attributes, at: str) -> Iterator[Flaw]:
    """A plan by attributes, or a number of packages, on which no reading is taken."""
    yield from sample_flaws(sample, at)
    yield from plan_place_flaws(sample, "attributes", "The sample", at)
    yield from counting_flaws(sample, document.counting or "packages", at)
    if sample.readings_per_package:
        text = "Packages are looked over here, and no reading is taken. Leave `readings_per_package` out."
        yield Flaw("readings-not-here", text, f"{at}/readings_per_package")


def _accept_flaws(sample: Sample, at_most: int | UnsetType, at: str) -> Iterator[Flaw]:
    """The accept number comes from the plan or from the grade, not from both."""
    plan = quoted(sample.__struct_config__.tag)
    if sample.accepts_by and not isinstance(at_most, UnsetType):
        text = f"The plan {plan} has an accept number of its own. Leave `at_most` out, or take another plan."
        yield Flaw("at-most-not-here", text, f"{at}/at_most")
    if not sample.accepts_by and isinstance(at_most, UnsetType):
        text = f"The plan {plan} says how many packages are drawn, and not how many may be nonconforming. Add `at_most`."
        yield Flaw("missing-field", text, f"{at}/at_most")


def _includes_flaws(document: Attributes, context: GradeContext, at: str) -> Iterator[Flaw]:
    """The classes that count here too are others that the grade counts."""
    known = _faults_by_class(context)
    for number, name in enumerate(document.includes or ()):
        if name == document.class_:
            text = f"{quoted(name)} is the class itself. Leave it out."
            yield Flaw("class-includes-itself", text, f"{at}/includes/{number}")
        elif name not in known:
            remedy = did_you_mean(name, known) or " Add a requirement on it, or correct the name."
            yield Flaw("unknown-class", f"No requirement counts a class {quoted(name)}.{remedy}", f"{at}/includes/{number}")


def _faults_by_class(context: GradeContext) -> dict[str, list[str]]:
    """The faults of each class that the grade counts."""
    found: dict[str, list[str]] = {}
    for each in context.requirements.values():
        if isinstance(each, Attributes):
            known = found.setdefault(each.class_, [])
            known += [fault for fault in each.faults or () if fault not in known]
    return found


def _retest_flaws(document: Attributes, retest: RetestOfCounts, at: str) -> Iterator[Flaw]:
    """A retest is one more sample with an accept number, which is its own where both samples are judged together."""
    yield from _sample_flaws(retest.sample, document, f"{at}/retest/sample")
    for sample, where in ((document.sample, f"{at}/sample"), (retest.sample, f"{at}/retest/sample")):
        if isinstance(sample, CodeLetter) and sample.scheme == "double":
            text = "A double plan has a second sample of its own. Leave `retest` out, or take the `single` scheme."
            yield Flaw("retest-of-double", text, f"{where}/scheme")
        if sample.accepts_by and retest.judge == "together":
            text = "A plan with an accept number of its own can't be judged together with another. Judge the `second` alone."
            yield Flaw("retest-together-by-plan", text, where)
    if retest.judge == "together" and isinstance(retest.at_most, UnsetType):
        text = "How many both samples together may come to is not said. Add `at_most`."
        yield Flaw("missing-field", text, f"{at}/retest/at_most")
    if retest.judge == "second" and (retest.sample.accepts_by or isinstance(document.at_most, UnsetType)):
        yield from _accept_flaws(retest.sample, retest.at_most, f"{at}/retest")


def compiled(document: Attributes, context: GradeContext, pointer: str) -> AttributesRule:
    """Ready to judge; the document has no flaws."""
    by_class = _faults_by_class(context)
    others = [Part(name, by_class[name]) for name in document.includes or ()]
    is_given = not isinstance(document.at_most, UnsetType)
    return AttributesRule(
        parts=[Part(document.class_, document.faults or ()), *others],
        counting=document.counting or "packages",
        sample=document.sample,
        at_most=None if isinstance(document.at_most, UnsetType) else document.at_most,
        retest=document.retest or None,
        sample_pointer=f"{pointer}/sample",
        accept_pointer=f"{pointer}/at_most" if is_given else f"{pointer}/sample",
        **common_fields(document, pointer),
    )
