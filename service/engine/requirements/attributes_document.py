"""The kind `attributes` as a specification writes it, and what can be wrong with it."""

from collections.abc import Iterator
from typing import Annotated

from msgspec import UNSET, Meta, UnsetType, field

from service.engine.documents import Flaw, Name, Whole, did_you_mean, quoted
from service.engine.requirements.documents import Requirement, Retest
from service.engine.requirements.grade_context import GradeContext
from service.engine.requirements.inspection_counts import Counting, name_flaws
from service.engine.sampling import CodeLetter, Sample, counting_flaws, plan_place_flaws, sample_flaws

Names = Annotated[list[Name], Meta(min_length=1, max_length=100)]


class RetestOfCounts(Retest, frozen=True, kw_only=True):
    """A second sample of packages to inspect, and its accept number, or that of both samples together."""

    at_most: Whole | UnsetType = UNSET
    """The accept number; where left out and the second sample decides alone, that of the requirement."""


class Attributes(Requirement, frozen=True, kw_only=True, tag="attributes"):
    """The nonconforming packages of a class, or the occurrences of its faults, are not more than the accept number."""

    class_: Name = field(name="class")
    faults: Names | UnsetType = UNSET
    """The faults of the class. Counts may be sent for the class, or for each of its faults."""
    counting: Counting | UnsetType = UNSET
    """`packages` where left out."""
    sample: Sample
    at_most: Whole | UnsetType = UNSET
    """The accept number, for a sample whose plan has none."""
    includes: Names | UnsetType = UNSET
    """Graver classes whose counts count here too."""
    retest: RetestOfCounts | UnsetType = UNSET


def flaws(document: Attributes, context: GradeContext, at: str) -> Iterator[Flaw]:
    """The flaws of the document; `at` is its place in the specification."""
    yield from _sample_flaws(document.sample, document, f"{at}/sample")
    yield from _accept_flaws(document.sample, document.at_most, at)
    yield from name_flaws(document.faults or (), f"{at}/faults")
    yield from name_flaws(document.includes or (), f"{at}/includes")
    yield from _includes_flaws(document, context, at)
    if document.retest:
        yield from _retest_flaws(document, document.retest, at)


def _sample_flaws(sample: Sample, document: Attributes, at: str) -> Iterator[Flaw]:
    """The sample is a plan by attributes or a number of packages, and has no readings."""
    yield from sample_flaws(sample, at)
    yield from plan_place_flaws(sample, "attributes", "The sample", at)
    yield from counting_flaws(sample, document.counting or "packages", at)
    if sample.readings_per_package:
        text = "Packages are inspected here, and no reading is taken. Remove `readings_per_package`."
        yield Flaw("readings-not-here", text, f"{at}/readings_per_package")


def _accept_flaws(sample: Sample, at_most: int | UnsetType, at: str) -> Iterator[Flaw]:
    """The accept number comes either from the plan or from the grade."""
    plan = quoted(sample.__struct_config__.tag)
    if sample.accepts_by and not isinstance(at_most, UnsetType):
        text = f"The plan {plan} has its own accept number. Remove `at_most`, or use another plan."
        yield Flaw("at-most-not-here", text, f"{at}/at_most")
    if not sample.accepts_by and isinstance(at_most, UnsetType):
        text = f"The plan {plan} gives how many packages to draw, but not how many may be nonconforming. Add `at_most`."
        yield Flaw("missing-field", text, f"{at}/at_most")


def _includes_flaws(document: Attributes, context: GradeContext, at: str) -> Iterator[Flaw]:
    """Included classes are other classes that a requirement of the grade counts."""
    known = faults_by_class(context)
    for number, name in enumerate(document.includes or ()):
        if name == document.class_:
            text = f"{quoted(name)} is the class itself. Remove it."
            yield Flaw("class-includes-itself", text, f"{at}/includes/{number}")
        elif name not in known:
            remedy = did_you_mean(name, known) or " Add a requirement on it, or correct the name."
            yield Flaw("unknown-class", f"No requirement counts a class {quoted(name)}.{remedy}", f"{at}/includes/{number}")


def faults_by_class(context: GradeContext) -> dict[str, list[str]]:
    """The faults of each class that the grade counts, each once, by class."""
    found: dict[str, list[str]] = {}
    # Several requirements may count one class, each with some of its faults: whoever includes the class counts them all.
    for each in context.requirements.values():
        if isinstance(each, Attributes):
            known = found.setdefault(each.class_, [])
            known += [fault for fault in each.faults or () if fault not in known]
    return found


def _retest_flaws(document: Attributes, retest: RetestOfCounts, at: str) -> Iterator[Flaw]:
    """A retest is a single sample with an accept number, which it must state where both samples are judged together."""
    yield from _sample_flaws(retest.sample, document, f"{at}/retest/sample")
    for sample, where in ((document.sample, f"{at}/sample"), (retest.sample, f"{at}/retest/sample")):
        if isinstance(sample, CodeLetter) and sample.scheme == "double":
            text = "A double plan has its own second sample. Remove `retest`, or use the `single` scheme."
            yield Flaw("retest-of-double", text, f"{where}/scheme")
        # The accept number of a plan is for its own sample size, and not for the sum of two samples.
        if sample.accepts_by and retest.judge == "together":
            text = "A plan with its own accept number cannot be judged together with another. Set `judge` to `second`."
            yield Flaw("retest-together-by-plan", text, where)
    if retest.judge == "together" and isinstance(retest.at_most, UnsetType):
        text = "How many of both samples together may be nonconforming is not given. Add `at_most`."
        yield Flaw("missing-field", text, f"{at}/retest/at_most")
    if retest.judge == "second" and (retest.sample.accepts_by or isinstance(document.at_most, UnsetType)):
        yield from _accept_flaws(retest.sample, retest.at_most, f"{at}/retest")
