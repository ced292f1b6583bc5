"""Reviews: advice on a specification without flaws, on what is allowed but seldom intended."""

from collections.abc import Iterator

from service.engine.documents import FAULTS_BY_NAME, Flaw, did_you_mean, listed, quoted
from service.engine.grade import CompiledGrade
from service.engine.requirements import CompiledRequirement, LimitedRule, MeasuredRule, RateRule


def advice_on(grade: CompiledGrade) -> list[Flaw]:
    """The advice for the writer of the specification, each piece with its pointer into it; advice changes no verdict."""
    by_requirement = [advice for each in grade.requirements for advice in _requirement_advice(each)]
    return by_requirement + list(_unused_characteristics(grade))


def _requirement_advice(requirement: CompiledRequirement) -> Iterator[Flaw]:
    """The advice on one requirement."""
    yield from _without_sample(requirement)
    yield from _unlisted_faults(requirement)
    yield from _guarded_yet_uncalibrated(requirement)


def _guarded_yet_uncalibrated(requirement: CompiledRequirement) -> Iterator[Flaw]:
    """Advice where limits are guarded although readings of instruments overdue for calibration count."""
    # The guard band is made from the stated uncertainty, which is only known while the calibration is valid.
    if not isinstance(requirement, LimitedRule) or requirement.guard is None:
        return
    for source in requirement.of.sources:
        if not source.precautions.is_calibrated:
            text = (
                f"The limits are guarded by an uncertainty, and readings of `{source.name}` count even from instruments "
                "overdue for calibration, whose uncertainty is not known. Set `overdue_calibration` to `undecided`."
            )
            yield Flaw("guarded-yet-overdue-taken", text, source.pointer, requirement.pointer)


def _without_sample(requirement: CompiledRequirement) -> Iterator[Flaw]:
    """Advice where no sample is required: one good reading would pass a lot, or any inspected length."""
    if isinstance(requirement, RateRule) and requirement.at_least is None:
        text = (
            "The grade sets no least amount to inspect, so any length or mass is enough to pass a lot. "
            "Add `at_least_looked_at`."
        )
        yield Flaw("no-sample", text, requirement.pointer)
    if not isinstance(requirement, MeasuredRule) or requirement.sample:
        return
    unsampled = [source.name for source in requirement.of.sources if not source.sample]
    if unsampled:
        enough = "two readings are" if requirement.least_values > 1 else "one reading is"
        what = f"The grade sets no sample of {listed(unsampled, 'and')}, so {enough} enough to pass a lot"
        text = f"{what}. Add a `sample` to the characteristic."
        yield Flaw("no-sample", text, requirement.pointer)


def _unlisted_faults(requirement: CompiledRequirement) -> Iterator[Flaw]:
    """Advice on names of faults that are not in the vocabulary."""
    # Allowed, as a grade may have faults of its own; a misspelt name of the vocabulary would split one fault in two.
    for number, name in enumerate(requirement.fault_names):
        if name not in FAULTS_BY_NAME:
            suggestion = did_you_mean(name, FAULTS_BY_NAME) or " `GET /v1/faults` lists it."
            text = f"{quoted(name)} is not in the vocabulary of faults.{suggestion} If it is a fault of your own, keep it."
            yield Flaw("fault-not-in-vocabulary", text, f"{requirement.pointer}/faults/{number}")


def _unused_characteristics(grade: CompiledGrade) -> Iterator[Flaw]:
    """Advice on characteristics that change no verdict, as no requirement is on them or on what is derived from them."""
    used = {source.name for requirement in grade.requirements for source in requirement.sources}
    for characteristic in grade.characteristics.values():
        if characteristic.name not in used:
            text = f"No requirement uses `{characteristic.name}`, so its readings change no verdict. Add one, or remove it."
            yield Flaw("no-requirement", text, characteristic.pointer)
