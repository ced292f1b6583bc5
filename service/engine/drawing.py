"""Compiled grade + what is told of a lot → what to pull from it."""

from msgspec import UNSET, UnsetType

from service.engine.compilation import CompiledGrade
from service.engine.draws import Draw, ToDraw, Undrawn
from service.engine.evidence import LotToDraw
from service.engine.preparing import lot_size_of


def what_to_draw(
    grade: CompiledGrade, lot: LotToDraw, code: str | UnsetType = UNSET, revision: int | UnsetType = UNSET
) -> ToDraw:
    """What to pull from a lot without flaws, under the code and revision by which the caller named the grade."""
    size = lot_size_of(lot)
    found = [each for requirement in grade.requirements for each in requirement.draws(size)]
    draws = [each for each in found if isinstance(each, Draw)]
    return ToDraw(
        grade=code,
        revision=revision,
        specification=grade.digest,
        lot=lot,
        draws=draws,
        undecided=[each for each in found if isinstance(each, Undrawn)],
        packages=max((each.packages for each in draws if not each.stage or each.stage == 1), default=0),
    )
