"""Use cases of the catalogue: lists of grades and revisions, the revision in force, drafts, releases, withdrawals."""

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
"""Digests, one of which has to be the stored document's; None accepts any."""


class Page(NamedTuple):
    """Grades in order of code, and the code to continue after; "" on the last page."""

    grades: Sequence[GradeEntry]
    after: str


class RevisionPage(NamedTuple):
    """Revisions in order of number, and the number to continue after; 0 on the last page."""

    revisions: Sequence[Revision]
    after: int


async def check_there(catalogue: Catalogue, path: Mapping[str, str]) -> None:
    """Raise GradeUnknownError or RevisionUnknownError if the `grade` or `revision` of a path does not exist."""
    if "revision" in path:
        await catalogue.revision(path["grade"], int(path["revision"]))
    elif "grade" in path:
        await catalogue.revisions(path["grade"], 0, 1)


async def list_grades(catalogue: Catalogue, after: str = "", limit: int = MOST_AT_ONCE) -> Page:
    """Return a page of grades after `after`. A grade added between two pages is on one of them or on none."""
    found, last = await part(partial(catalogue.grades, after), limit)
    return Page(found, last.grade if last else "")


async def list_revisions(catalogue: Catalogue, grade: str, after: int = 0, limit: int = MOST_AT_ONCE) -> RevisionPage:
    """Return a page of revisions with numbers above `after`. Raises GradeUnknownError."""
    found, last = await part(partial(catalogue.revisions, grade, after), limit)
    return RevisionPage(found, last.number if last else 0)


async def revision_in_force(catalogue: Catalogue, grade: str, at: Moment | None = None) -> Final:
    """Return the revision in force at a moment; for None now, by the catalogue's clock.

    Raises GradeUnknownError, NoneInForceError.
    """
    finals = await catalogue.final_revisions(grade)
    moment = at or (await catalogue.current_state()).now
    found = in_force(finals, moment)
    if found is None:
        # Raises for a grade that does not exist, which has no final revisions either.
        await catalogue.revisions(grade, 0, 1)
        text = f"No revision of {grade} is in force at {written(moment)}. Release one, or ask for another time."
        raise NoneInForceError(text)
    return found


async def add_draft(
    catalogue: Catalogue, grade: str, specification: Specification, *, by: str = LOCAL
) -> tuple[Revision, bool]:
    """Return (new draft, True), or (newest draft, False) if it has the same specification, so that repeating is safe.

    Raises FlawedDocumentError with every flaw; nothing is stored then.
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
    """Replace a draft's specification if the stored one is expected.

    Raises FlawedDocumentError, PreconditionMissingError if the request is not conditional, and the errors of
    Catalogue.replace_draft.
    """
    # An unknown grade or revision is reported before flaws of the body.
    await catalogue.revision(grade, number)
    digest = (await run_in_thread(compile_specification, specification)).digest
    if not is_conditional:
        text = "The header If-Match is missing. Send it with the ETag of the specification that you replace."
        raise PreconditionMissingError(text)
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
    """Release a draft; checks on this replica after the answer are judged by it, once it is in force."""
    revision = await catalogue.release(grade, number, effective_from, expected, by=by, one_person_may=one_person_may)
    await _refresh(grade_cache)
    return revision


async def withdraw(
    catalogue: Catalogue, grade_cache: GradeCache, grade: str, number: int, reason: str, *, by: str = LOCAL
) -> Revision:
    """Withdraw a released revision; checks on this replica after the answer are no longer judged by it."""
    revision = await catalogue.withdraw(grade, number, reason, by=by)
    await _refresh(grade_cache)
    return revision


async def _refresh(grade_cache: GradeCache) -> None:
    """Refresh the cache after a change."""
    # The change is committed: without the database the answer is still right, and the next poll refreshes the cache.
    with suppress(CatalogueAwayError):
        await grade_cache.refresh()


async def changes(catalogue: Catalogue, grade: str, number: int, since: int | None) -> Changes:
    """Return the differences of a revision from another one, the previous one for None.

    Raises GradeUnknownError, RevisionUnknownError for `number`, FlawedDocumentError at /since.
    """
    new = msgspec.json.decode(await catalogue.specification(grade, number))
    if since is None and number == 1:
        text = "Revision 1 is the first, so there is none before it. Give the revision to compare it with as `since`."
        raise FlawedDocumentError([Flaw("nothing-before", text, "/since")])
    start = number - 1 if since is None else since
    try:
        old = msgspec.json.decode(await catalogue.specification(grade, start))
    except RevisionUnknownError as error:
        raise FlawedDocumentError([Flaw("unknown-revision", str(error), "/since")]) from error
    return Changes(start, number, changes_between(old, new))


def document_of(specification: Specification) -> bytes:
    """Return a specification as it is stored, in canonical form."""
    return canonical(msgspec.to_builtins(specification))
