"""Advice on a specification without flaws: what is allowed and yet seldom meant."""

from collections.abc import Iterator

from service.engine.compilation import CompiledGrade
from service.engine.flaws import Flaw
from service.engine.requirements import CompiledRequirement
from service.engine.requirements.measuring import MeasuredRule


def advice_on(grade: CompiledGrade) -> list[Flaw]:
    """What its writer might want to think over, each with its pointer into the specification."""
    return [advice for requirement in grade.requirements for advice in _without_sample(requirement)] + list(_unused(grade))


def _without_sample(requirement: CompiledRequirement) -> Iterator[Flaw]:
    """Without a sample one good reading would pass a lot."""
    if not isinstance(requirement, MeasuredRule) or requirement.sample:
        return
    bare = [source.name for source in requirement.of.sources if not source.sample]
    if bare:
        enough = "two readings are" if requirement.least > 1 else "one reading is"
        what = f"No sample is asked of {' and '.join(bare)}, so {enough} enough to pass a lot"
        text = f"{what}. Add a `sample` to the characteristic."
        yield Flaw("no-sample", text, requirement.pointer)


def _unused(grade: CompiledGrade) -> Iterator[Flaw]:
    """A characteristic that no requirement is on, nor on what is derived from it, moves no verdict."""
    used = {source.name for requirement in grade.requirements for source in requirement.sources}
    for characteristic in grade.characteristics.values():
        if characteristic.name not in used:
            text = f"No requirement is on {characteristic.name}, so its readings move no verdict. Add one, or leave it out."
            yield Flaw("no-requirement", text, characteristic.pointer)
