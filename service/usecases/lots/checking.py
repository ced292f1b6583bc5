"""Checking one reading of a lot: by the lot's own revision, beside what is outside in it already."""

from collections.abc import Iterator, Mapping
from contextlib import suppress
from typing import NamedTuple

from msgspec import UNSET, Struct, UnsetType
from msgspec.structs import replace

from service.engine.checking import judge_reading
from service.engine.documents import (
    Check,
    CheckAnswer,
    Code,
    Flaw,
    FlawedDocumentError,
    Name,
    RevisionNumber,
    Text,
    UnitName,
    quoted,
)
from service.engine.grade import CompiledGrade
from service.engine.judging import prepared_evidence, used_up
from service.engine.ledger import LotHistory
from service.engine.lot import reading_flaws
from service.ports.catalogue import CatalogueAwayError
from service.ports.ledger import Ledger, LotUnknownError
from service.usecases.grades import GradeCache
from service.usecases.judging import held_by

FRESH_S = 0.5
"""A check knows what any replica has recorded of its lot so long ago; what its own has recorded, at once."""


class CheckOfLot(Struct, frozen=True, forbid_unknown_fields=True):
    """One reading, and the lot that it is of."""

    lot: Code
    characteristic: Name
    unit: UnitName
    value: float
    method: Text | UnsetType = UNSET
    grade: Code | UnsetType = UNSET
    """Here and below to tell who gives them that the lot's own count."""
    revision: RevisionNumber | UnsetType = UNSET


class CheckedInLot(NamedTuple):
    """The answer, and whether it rests on what was known before the database went away."""

    answer: CheckAnswer
    is_stale: bool


class UsedAllowances(NamedTuple):
    """How many readings are outside already after so many changes, by requirement of a revision."""

    changes: int
    revision: int
    by_requirement: Mapping[str, int] | None
    """None where the lot's evidence as a whole has flaws, so that nobody can say."""


async def of_reading_in_lot(grade_cache: GradeCache, ledger: Ledger, check: CheckOfLot) -> CheckedInLot:
    """What one reading of a lot comes to; nothing is recorded.

    Raises FlawedDocumentError with pointers into the check, CatalogueAwayError where the database has been away for too long.
    """
    if flaws := list(_named_twice(check)):
        raise FlawedDocumentError(flaws)
    try:
        folded, is_stale = await _folded(grade_cache, ledger, check.lot)
    except LotUnknownError as error:
        text = (
            f"There is no lot {quoted(check.lot)}. `PUT /v1/lots/{check.lot}` opens it, `GET /v1/lots` lists those there are."
        )
        of_value = reading_flaws(check.value, check.unit, None, "/value")
        raise FlawedDocumentError([Flaw("unknown-lot", text, "/lot"), *of_value]) from error
    held = await held_by(grade_cache, folded.grade, folded.revision, "")
    reading = Check(held.grade, check.characteristic, check.unit, check.value, method=check.method)
    answer = judge_reading(held.compiled, reading, held.number, _used(folded, held.compiled, held.number))
    return CheckedInLot(replace(answer, lot=check.lot), is_stale)


async def _folded(grade_cache: GradeCache, ledger: Ledger, lot: str) -> tuple[LotHistory, bool]:
    """The lot, and whether it is as it was before the database went away."""
    if not grade_cache.is_stale:
        with suppress(CatalogueAwayError):
            return await ledger.recent(lot, FRESH_S), False
    return await ledger.recent(lot, grade_cache.stale_for_s), True


def _used(folded: LotHistory, grade: CompiledGrade, revision: int) -> Mapping[str, int] | None:
    """How many are outside already, worked out once for all who ask after the same change."""
    known = folded.used
    if not isinstance(known, UsedAllowances) or (known.changes, known.revision) != (folded.changes, revision):
        known = folded.used = UsedAllowances(folded.changes, revision, _counted(folded, grade))
    return known.by_requirement


def _counted(folded: LotHistory, grade: CompiledGrade) -> Mapping[str, int] | None:
    """The same, worked out."""
    try:
        return used_up(grade, prepared_evidence(folded.evidence()))
    except FlawedDocumentError:
        # Not counted, a reading outside is left to the lot: that never shows a wrong green.
        return None


def _named_twice(check: CheckOfLot) -> Iterator[Flaw]:
    """A lot has a grade and a revision of its own."""
    for name in ("grade", "revision"):
        if getattr(check, name) is not UNSET:
            text = (
                f"A `lot` is judged by its own grade and revision, and a `{name}` is given. Leave out `{name}`, or the `lot`."
            )
            yield Flaw("grade-or-lot", text, f"/{name}")
