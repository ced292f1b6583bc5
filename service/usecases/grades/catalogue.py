"""What a caller can ask of the catalogue: grades, their revisions, what is in force, drafts, releases, withdrawals."""

from collections.abc import Mapping, Sequence
from contextlib import suppress
from functools import partial
from typing import NamedTuple

import msgspec

from service.engine.documents import Flaw, FlawedDocumentError, canonical
from service.engine.grade import Specification, compile_specification
from service.ports.catalogue import (
    LOCAL,
    Catalogue,
    CatalogueAwayError,
    Final,
    GradeEntry,
    Moment,
    NoneInForceError,
    PreconditionMissingError,
    Revision,
    RevisionUnknownError,
    written,
)
from service.usecases.grades.cache import GradeCache
from service.usecases.grades.changes import Changes, changes_between
from service.usecases.grades.in_force import in_force
from service.usecases.paging import MOST_AT_ONCE, part
from service.usecases.threads import run_in_thread

Expected = frozenset[str] | None
"""Digests of which one must be the document's; None where any will do."""


class Page(NamedTuple):
    """Grades in the order of their codes, and the code to go on after, "" where these were the last."""

    grades: Sequence[GradeEntry]
    after: str


class RevisionPage(NamedTuple):
    """Revisions in the order of their numbers, and the number to go on after, 0 where these were the last."""

    revisions: Sequence[Revision]
    after: int


async def check_there(catalogue: Catalogue, path: Mapping[str, str]) -> None:
    """Raise GradeUnknownError or RevisionUnknownError where the `grade` or the `revision` that a path names is not there."""
    if "revision" in path:
        await catalogue.revision(path["grade"], int(path["revision"]))
    elif "grade" in path:
        await catalogue.revisions(path["grade"], 0, 1)


async def list_grades(catalogue: Catalogue, after: str = "", limit: int = MOST_AT_ONCE) -> Page:
    """Grades whose code comes after this one. A grade that is made meanwhile is on one page or on none, never on two."""
    found, last = await part(partial(catalogue.grades, after), limit)
    return Page(found, last.grade if last else "")


async def list_revisions(catalogue: Catalogue, grade: str, after: int = 0, limit: int = MOST_AT_ONCE) -> RevisionPage:
    """Revisions of a grade with a greater number than this. Raises GradeUnknownError."""
    found, last = await part(partial(catalogue.revisions, grade, after), limit)
    return RevisionPage(found, last.number if last else 0)


async def revision_in_force(catalogue: Catalogue, grade: str, at: Moment | None = None) -> Final:
    """The revision in force at a moment, now where none is given, by the catalogue's clock.

    Raises GradeUnknownError, NoneInForceError.
    """
    finals = await catalogue.final_revisions(grade)
    moment = at or (await catalogue.current_state()).now
    found = in_force(finals, moment)
    if found is None:
        await catalogue.revisions(grade, 0, 1)
        text = f"No revision of {grade} is in force at {written(moment)}. Release one, or ask for another moment."
        raise NoneInForceError(text)
    return found


async def add_draft(
    catalogue: Catalogue, grade: str, specification: Specification, *, by: str = LOCAL
) -> tuple[Revision, bool]:
    """A new draft and True, or the newest one and False where it has the same specification, so that a caller may repeat.

    Raises FlawedDocumentError with every flaw; nothing is kept then.
    """
    digest = (await run_in_thread(compile_specification, specification)).digest
    return await catalogue.add_draft(grade, document_of(specification), digest, by=by)


async def replace_draft(
    catalogue: Catalogue,
    grade: str,
    number: int,
    specification: Specification,
    *,
    expected: Expected,
    is_conditional: bool,
    by: str = LOCAL,
) -> Revision:
    """The draft with another specification, if it still is the expected one.

    Raises FlawedDocumentError, PreconditionMissingError where the caller doesn't say what he expects, and what
    Catalogue.replace_draft raises.
    """
    await catalogue.revision(grade, number)
    digest = (await run_in_thread(compile_specification, specification)).digest
    if not is_conditional:
        raise PreconditionMissingError("Say by If-Match which specification you replace: the ETag that came with it.")
    return await catalogue.replace_draft(grade, number, document_of(specification), digest, expected, by=by)


async def release(
    catalogue: Catalogue,
    grade_cache: GradeCache,
    grade: str,
    number: int,
    *,
    effective_from: Moment | None,
    expected: Expected,
    by: str = LOCAL,
    one_person_may: bool = False,
) -> Revision:
    """The draft released; a check that comes after the answer is judged by it, if it is in force by then."""
    revision = await catalogue.release(grade, number, effective_from, expected, by=by, one_person_may=one_person_may)
    await _refresh(grade_cache)
    return revision


async def withdraw(
    catalogue: Catalogue, grade_cache: GradeCache, grade: str, number: int, reason: str, *, by: str = LOCAL
) -> Revision:
    """The released revision withdrawn; a check that comes after the answer is not judged by it any more."""
    revision = await catalogue.withdraw(grade, number, reason, by=by)
    await _refresh(grade_cache)
    return revision


async def _refresh(grade_cache: GradeCache) -> None:
    """What was done is done, even if the database goes away right after; the next poll then brings it."""
    with suppress(CatalogueAwayError):
        await grade_cache.refresh()


async def changes(catalogue: Catalogue, grade: str, number: int, since: int | None) -> Changes:
    """What differs in a revision from another one, the one before it where none is named.

    Raises GradeUnknownError, RevisionUnknownError for `number`, FlawedDocumentError at /since.
    """
    new = msgspec.json.decode(await catalogue.specification(grade, number))
    if since is None and number == 1:
        text = "Revision 1 is the first, so there is none before it. Say by `since` which one to compare it with."
        raise FlawedDocumentError([Flaw("nothing-before", text, "/since")])
    start = number - 1 if since is None else since
    try:
        old = msgspec.json.decode(await catalogue.specification(grade, start))
    except RevisionUnknownError as error:
        raise FlawedDocumentError([Flaw("unknown-revision", str(error), "/since")]) from error
    return Changes(start, number, changes_between(old, new))


def document_of(specification: Specification) -> bytes:
    """The specification as it is kept: its canonical form."""
    return canonical(msgspec.to_builtins(specification))
