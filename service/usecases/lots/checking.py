"""Check of one reading of a lot, by the lot's revision and given the readings that are outside the limits already."""

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
"""A check may miss changes that other replicas recorded within so many seconds; it knows those of its own at once."""


class CheckOfLot(Struct, frozen=True, forbid_unknown_fields=True):
    """One reading of a lot."""

    lot: Code
    characteristic: Name
    unit: UnitName
    value: float
    method: Text | UnsetType = UNSET
    grade: Code | UnsetType = UNSET
    """This and `revision` are accepted only to report that the lot's own are used."""
    revision: RevisionNumber | UnsetType = UNSET


class CheckedInLot(NamedTuple):
    """The answer, and whether it rests on a cache while the database is unavailable."""

    answer: CheckAnswer
    is_stale: bool


class UsedAllowances(NamedTuple):
    """Number of readings outside the limits after a number of changes, by requirement of a revision."""

    changes: int
    revision: int
    by_requirement: Mapping[str, int] | None
    """None if the lot's evidence as a whole has flaws and can't be counted."""


async def of_reading_in_lot(grade_cache: GradeCache, ledger: Ledger, check: CheckOfLot) -> CheckedInLot:
    """Judge one reading of a lot; nothing is recorded.

    Raises FlawedDocumentError with pointers into the check, CatalogueAwayError if the database was unavailable for too long.
    """
    if flaws := list(_named_twice(check)):
        raise FlawedDocumentError(flaws)
    try:
        folded, is_stale = await _folded(grade_cache, ledger, check.lot)
    except LotUnknownError as error:
        text = f"There is no lot {quoted(check.lot)}. `PUT /v1/lots/{check.lot}` opens it; `GET /v1/lots` lists the lots."
        of_value = reading_flaws(check.value, check.unit, None, "/value")
        raise FlawedDocumentError([Flaw("unknown-lot", text, "/lot"), *of_value]) from error
    held = await held_by(grade_cache, folded.grade, folded.revision, "")
    reading = Check(held.grade, check.characteristic, check.unit, check.value, method=check.method)
    answer = judge_reading(held.compiled, reading, held.number, _used(folded, held.compiled, held.number))
    return CheckedInLot(replace(answer, lot=check.lot), is_stale)


async def _folded(grade_cache: GradeCache, ledger: Ledger, lot: str) -> tuple[LotHistory, bool]:
    """Return the lot's history, and whether it is from memory because the database is unavailable."""
    # A change that is not seen yet can turn a fail into an undecided or back, never either into a pass: a reading within the
    # limits passes whatever the others are.
    if not grade_cache.is_stale:
        with suppress(CatalogueAwayError):
            return await ledger.recent(lot, FRESH_S), False
    return await ledger.recent(lot, grade_cache.stale_for_s), True


def _used(folded: LotHistory, grade: CompiledGrade, revision: int) -> Mapping[str, int] | None:
    """Return the readings outside by requirement, counted once for each change of the lot."""
    known = folded.used
    if not isinstance(known, UsedAllowances) or (known.changes, known.revision) != (folded.changes, revision):
        known = folded.used = UsedAllowances(folded.changes, revision, _counted(folded, grade))
    return known.by_requirement


def _counted(folded: LotHistory, grade: CompiledGrade) -> Mapping[str, int] | None:
    """Count the readings outside by requirement; None for evidence with flaws."""
    try:
        return used_up(grade, prepared_evidence(folded.evidence()))
    except FlawedDocumentError:
        # Without a count a reading outside is left to the lot's verdict, so this never reports a wrong pass.
        return None


def _named_twice(check: CheckOfLot) -> Iterator[Flaw]:
    """Flaws of a check that names both a lot and a grade or revision."""
    for name in ("grade", "revision"):
        if getattr(check, name) is not UNSET:
            text = (
                f"A `lot` is judged by its own grade and revision, and a `{name}` is given. Remove the `{name}` or the `lot`."
            )
            yield Flaw("grade-or-lot", text, f"/{name}")
