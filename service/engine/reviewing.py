"""Advice on a specification without flaws: what is allowed and yet seldom meant."""

from collections.abc import Iterator

from service.engine.documents import FAULTS_BY_NAME, Flaw, did_you_mean, quoted
from service.engine.grade import CompiledGrade
from service.engine.requirements import CompiledRequirement, LimitedRule, MeasuredRule, RateRule


def advice_on(grade: CompiledGrade) -> list[Flaw]:
    """What its writer might want to think over, each with its pointer into the specification."""
    by_requirement = [advice for each in grade.requirements for advice in _requirement_advice(each)]
    return by_requirement + list(_unused_characteristics(grade))


def _requirement_advice(requirement: CompiledRequirement) -> Iterator[Flaw]:
    """What there is to say on one requirement."""
    yield from _without_sample(requirement)
    yield from _unlisted_faults(requirement)
    yield from _guarded_yet_uncalibrated(requirement)


def _guarded_yet_uncalibrated(requirement: CompiledRequirement) -> Iterator[Flaw]:
    """A guard band rests on an uncertainty, which nobody vouches for once the calibration has run out."""
    if not isinstance(requirement, LimitedRule) or requirement.guard is None:
        return
    for source in requirement.of.sources:
        if not source.precautions.is_calibrated:
            text = (
                f"The limits are guarded by an uncertainty, and readings of {source.name} are taken from instruments overdue "
                "for calibration too, whose uncertainty is not known. Set `overdue_calibration` to `undecided`."
            )
            yield Flaw("guarded-yet-overdue-taken", text, source.pointer, requirement.pointer)


def _without_sample(requirement: CompiledRequirement) -> Iterator[Flaw]:
    """Without a sample one good reading would pass a lot, and without an amount to look at any length."""
    if isinstance(requirement, RateRule) and requirement.at_least is None:
        text = "No amount to look at is asked for, so any length or mass is enough to pass a lot. Add `at_least_looked_at`."
        yield Flaw("no-sample", text, requirement.pointer)
    if not isinstance(requirement, MeasuredRule) or requirement.sample:
        return
    bare = [source.name for source in requirement.of.sources if not source.sample]
    if bare:
        enough = "two readings are" if requirement.least_values > 1 else "one reading is"
        what = f"No sample is asked of {' and '.join(bare)}, so {enough} enough to pass a lot"
        text = f"{what}. Add a `sample` to the characteristic."
        yield Flaw("no-sample", text, requirement.pointer)


def _unlisted_faults(requirement: CompiledRequirement) -> Iterator[Flaw]:
    """A name of the grade's own is allowed; a slip in one of the vocabulary would split a fault in two."""
    for number, name in enumerate(requirement.fault_names):
        if name not in FAULTS_BY_NAME:
            near = did_you_mean(name, FAULTS_BY_NAME) or " `GET /v1/faults` lists it."
            text = f"{quoted(name)} is not in the vocabulary of faults.{near} If it is the grade's own, leave it."
            yield Flaw("fault-not-in-vocabulary", text, f"{requirement.pointer}/faults/{number}")


def _unused_characteristics(grade: CompiledGrade) -> Iterator[Flaw]:
    """A characteristic that no requirement is on, nor on what is derived from it, moves no verdict."""
    used = {source.name for requirement in grade.requirements for source in requirement.sources}
    for characteristic in grade.characteristics.values():
        if characteristic.name not in used:
            text = f"No requirement is on {characteristic.name}, so its readings move no verdict. Add one, or leave it out."
            yield Flaw("no-requirement", text, characteristic.pointer)
