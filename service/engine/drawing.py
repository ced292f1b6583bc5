"""Compiled grade + what is told of a lot → what to pull from it."""

from msgspec import UNSET, UnsetType
from msgspec.structs import replace

from service.engine.compilation import CompiledGrade
from service.engine.draws import Draw, ToDraw, Undrawn
from service.engine.evidence import LotToDraw
from service.engine.preparing import lot_size_of
from service.engine.sampling import LotSize


def what_to_draw(
    grade: CompiledGrade, lot: LotToDraw, code: str | UnsetType = UNSET, revision: int | UnsetType = UNSET
) -> ToDraw:
    """What to pull from a lot without flaws, under the code and revision by which the caller named the grade."""
    size = lot_size_of(lot)
    found = [each for requirement in grade.requirements for each in requirement.draws(size)]
    draws = [_in_packs(each, grade, size) for each in found if isinstance(each, Draw)]
    return ToDraw(
        grade=code,
        revision=revision,
        specification=grade.digest,
        lot=lot,
        draws=draws,
        undecided=[each for each in found if isinstance(each, Undrawn)],
        packages=max((each.packages for each in draws if not each.stage or each.stage == 1), default=0),
    )


def _in_packs(draw: Draw, grade: CompiledGrade, lot: LotSize) -> Draw:
    """How many packages are in the packs that are drawn, where readings are of packs; the last pack may hold fewer."""
    of = grade.characteristics.get(draw.characteristic or "")
    if of is None or of.holds == 1:
        return draw
    packages = draw.packages * of.holds
    return replace(draw, packs=draw.packages, packages=min(packages, lot.packages) if lot.packages else packages)
