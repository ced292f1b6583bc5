"""The grade or specification that a request names to judge against."""

from collections.abc import Iterator
from typing import NamedTuple

from msgspec import UNSET, Struct, UnsetType

from service.engine.documents import Code, Flaw, FlawedDocumentError, RevisionNumber
from service.engine.grade import CompiledGrade, Specification, compile_specification
from service.usecases.grades import CachedGrade, GradeCache
from service.usecases.threads import run_in_thread


class Against(Struct, frozen=True, forbid_unknown_fields=True):
    """What a lot is judged against: a grade, by the named revision or the one in force, or a specification in the request."""

    grade: Code | UnsetType = UNSET
    revision: RevisionNumber | UnsetType = UNSET
    specification: Specification | UnsetType = UNSET


class NamedGrade(NamedTuple):
    """A compiled grade, with its code and revision unless it was given as a specification."""

    compiled: CompiledGrade
    grade: str | UnsetType
    revision: int | UnsetType


async def named(grade_cache: GradeCache, against: Against) -> NamedGrade:
    """Return the grade of a request. Raises FlawedDocumentError with pointers below /against."""
    if against.specification is UNSET and isinstance(against.grade, str):
        held = await held_by(grade_cache, against.grade, against.revision or None, "/against")
        return NamedGrade(held.compiled, held.grade, held.number)
    if isinstance(against.specification, Specification) and against.grade is UNSET and against.revision is UNSET:
        return NamedGrade(await _compiled(against.specification), UNSET, UNSET)
    raise FlawedDocumentError(list(_against_flaws(against)))


async def held_by(grade_cache: GradeCache, grade: str, revision: int | None, prefix: str) -> CachedGrade:
    """Return a revision, the one in force for None. Raises FlawedDocumentError at /grade or /revision below `prefix`."""
    try:
        # The common case is in memory and needs no await.
        return grade_cache.held(grade, revision) or await grade_cache.fetch(grade, revision)
    except FlawedDocumentError as error:
        raise below(prefix, error) from error


def below(prefix: str, error: FlawedDocumentError) -> FlawedDocumentError:
    """Return the error with `prefix` before the pointer of each flaw."""
    return FlawedDocumentError([flaw.below(prefix) for flaw in error.flaws])


def _against_flaws(against: Against) -> Iterator[Flaw]:
    """Exactly one of grade and specification has to be given."""
    if against.specification is UNSET:
        if against.grade is UNSET:
            text = "Neither a `grade` nor a `specification` is given. Give one of the two."
            yield Flaw("grade-or-specification", text, "/against")
    elif against.grade is not UNSET:
        text = "A `grade` and a `specification` are given. Remove one of the two."
        yield Flaw("grade-or-specification", text, "/against")
    elif against.revision is not UNSET:
        text = "A `specification` has no revisions. Remove `revision`, or give a `grade`."
        yield Flaw("revision-of-specification", text, "/against/revision")


async def _compiled(specification: Specification) -> CompiledGrade:
    try:
        # In a thread: a specification of the caller's may have many requirements, and plans to be searched for.
        return await run_in_thread(compile_specification, specification)
    except FlawedDocumentError as error:
        raise below("/against/specification", error) from error
