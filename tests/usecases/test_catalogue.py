"""What a caller can ask of the catalogue."""

import msgspec
import pytest

from service.engine.documents import FlawedDocumentError
from service.engine.grade import Specification
from service.ports.catalogue import (
    Draft,
    GradeEntry,
    GradeUnknownError,
    NoneInForceError,
    PreconditionMissingError,
    RevisionUnknownError,
    SpecificationHasChangedError,
)
from service.storage.catalogue import DatabaseCatalogue
from service.usecases.grades import GradeCache
from service.usecases.grades import catalogue as use
from tests.support.grade_caches import release, strength

GRADE = "TB-130"
FLAWED = msgspec.convert(
    {
        "characteristics": [{"name": "breaking_force", "unit": "m/kg"}],
        "requirements": [{"id": "strength", "kind": "mean", "of": "runnage", "limits": {"lower": 5, "upper": 3}}],
    },
    Specification,
)
"""A unit of another quantity, a characteristic that is not listed, and limits that nothing can meet."""


async def test_a_flawed_specification_keeps_nothing(catalogue: DatabaseCatalogue) -> None:
    """Every flaw is told at once, and no grade is left behind that nobody meant."""
    with pytest.raises(FlawedDocumentError) as raised:
        await use.add_draft(catalogue, GRADE, FLAWED)

    assert 1 < len(raised.value.flaws)
    assert [] == await catalogue.grades("", 9)


async def test_a_flawed_replacement_leaves_the_draft(catalogue: DatabaseCatalogue) -> None:
    """The draft stays as it was read until something whole replaces it."""
    draft, _ = await use.add_draft(catalogue, GRADE, strength(1400))
    kept = await catalogue.specification(GRADE, 1)
    with pytest.raises(FlawedDocumentError):
        await use.replace_draft(catalogue, GRADE, 1, FLAWED, expected=frozenset({draft.digest}), is_conditional=True)

    assert draft == await catalogue.revision(GRADE, 1)
    assert kept == await catalogue.specification(GRADE, 1)


async def test_a_draft_is_repeated_without_a_second_one(catalogue: DatabaseCatalogue) -> None:
    """A caller whose connection broke sends the same again, and finds the one draft."""
    first, is_new = await use.add_draft(catalogue, GRADE, strength(1400))
    second, is_new_too = await use.add_draft(catalogue, GRADE, strength(1400))

    assert (True, False) == (is_new, is_new_too)
    assert first == second


async def test_the_flaws_come_before_the_missing_condition(catalogue: DatabaseCatalogue) -> None:
    """Whoever has to send it again learns first what he has to mend in it."""
    await use.add_draft(catalogue, GRADE, strength(1400))
    with pytest.raises(FlawedDocumentError):
        await use.replace_draft(catalogue, GRADE, 1, FLAWED, expected=None, is_conditional=False)


@pytest.mark.parametrize(
    ("grade", "number", "error"),
    [
        ("TB-13", 1, GradeUnknownError),
        (GRADE, 2, RevisionUnknownError),
        (GRADE, 1, PreconditionMissingError),
    ],
)
async def test_a_condition_is_asked_for_where_there_is_something_to_replace(
    catalogue: DatabaseCatalogue, grade: str, number: int, error: type[Exception]
) -> None:
    """A wrong address is told as one: no condition makes it right."""
    draft, _ = await use.add_draft(catalogue, GRADE, strength(1400))
    with pytest.raises(error):
        await use.replace_draft(catalogue, grade, number, strength(1300), expected=None, is_conditional=False)

    assert draft == await catalogue.revision(GRADE, 1)


async def test_a_flaw_in_a_draft_that_is_not_there_is_not_looked_for(catalogue: DatabaseCatalogue) -> None:
    """The address is looked at before the document."""
    with pytest.raises(GradeUnknownError):
        await use.replace_draft(catalogue, GRADE, 1, FLAWED, expected=None, is_conditional=True)


async def test_only_the_document_that_was_read_is_replaced(catalogue: DatabaseCatalogue) -> None:
    """Of two who mend one draft, the second sees that the first was there."""
    draft, _ = await use.add_draft(catalogue, GRADE, strength(1400))
    read = frozenset({draft.digest})
    first = await use.replace_draft(catalogue, GRADE, 1, strength(1300), expected=read, is_conditional=True)
    with pytest.raises(SpecificationHasChangedError, match=first.digest):
        await use.replace_draft(catalogue, GRADE, 1, strength(1200), expected=read, is_conditional=True)

    assert use.document_of(strength(1300)) == await catalogue.specification(GRADE, 1)


async def test_any_document_is_replaced_where_the_caller_says_so(catalogue: DatabaseCatalogue) -> None:
    """`If-Match: *` asks only that there is a draft."""
    await use.add_draft(catalogue, GRADE, strength(1400))
    replaced = await use.replace_draft(catalogue, GRADE, 1, strength(1300), expected=None, is_conditional=True)

    assert isinstance(replaced, Draft)
    assert replaced == await catalogue.revision(GRADE, 1)


@pytest.mark.parametrize(
    ("path", "error"),
    [
        ({"grade": "TB-13"}, GradeUnknownError),
        ({"grade": "TB-13", "revision": "1"}, GradeUnknownError),
        ({"grade": GRADE, "revision": "2"}, RevisionUnknownError),
    ],
)
async def test_a_path_to_nothing_is_told(catalogue: DatabaseCatalogue, path: dict[str, str], error: type[Exception]) -> None:
    """A wrong code and a wrong number are told apart."""
    await use.add_draft(catalogue, GRADE, strength(1400))
    with pytest.raises(error):
        await use.check_there(catalogue, path)


@pytest.mark.parametrize("path", [{}, {"grade": GRADE}, {"grade": GRADE, "revision": "1"}])
async def test_a_path_to_something_goes_on(catalogue: DatabaseCatalogue, path: dict[str, str]) -> None:
    """What is there is not refused, nor a path that names nothing."""
    await use.add_draft(catalogue, GRADE, strength(1400))

    await use.check_there(catalogue, path)


async def test_pages_of_grades_hold_each_once(catalogue: DatabaseCatalogue) -> None:
    """The last page says that it is the last, also where it is full."""
    for code in ("d", "b", "a", "c"):
        await use.add_draft(catalogue, code, strength(1400))
    first = await use.list_grades(catalogue, "", 2)
    last = await use.list_grades(catalogue, first.after, 2)

    assert use.Page([GradeEntry("a", 1), GradeEntry("b", 1)], "b") == first
    assert use.Page([GradeEntry("c", 1), GradeEntry("d", 1)], "") == last
    assert use.Page([], "") == await use.list_grades(catalogue, "d", 2)


async def test_pages_of_revisions_hold_each_once(catalogue: DatabaseCatalogue) -> None:
    """A grade of many years is read to its end, and no further."""
    for lower in (1400, 1300, 1200, 1100):
        await use.add_draft(catalogue, GRADE, strength(lower))
    first = await use.list_revisions(catalogue, GRADE, 0, 2)
    last = await use.list_revisions(catalogue, GRADE, first.after, 2)

    assert ([1, 2], 2) == ([each.number for each in first.revisions], first.after)
    assert ([3, 4], 0) == ([each.number for each in last.revisions], last.after)
    assert use.RevisionPage([], 0) == await use.list_revisions(catalogue, GRADE, 4, 2)
    with pytest.raises(GradeUnknownError):
        await use.list_revisions(catalogue, "TB-13")


async def test_what_is_in_force_is_told_by_moment(catalogue: DatabaseCatalogue) -> None:
    """A lot of last year is looked up by what held then; before the first release nothing did."""
    grade_cache = GradeCache(catalogue)
    await use.add_draft(catalogue, GRADE, strength(1400))
    before = (await catalogue.current_state()).now
    with pytest.raises(NoneInForceError, match=f"No revision of {GRADE} is in force"):
        await use.revision_in_force(catalogue, GRADE)
    await use.release(catalogue, grade_cache, GRADE, 1, effective_from=None, expected=None)
    await release(catalogue, grade_cache, GRADE, 1300, after_s=3600)
    later = (await catalogue.revisions(GRADE, 1, 1))[0]
    assert not isinstance(later, Draft)

    assert 1 == (await use.revision_in_force(catalogue, GRADE)).number
    assert later == await use.revision_in_force(catalogue, GRADE, later.effective_from)
    with pytest.raises(NoneInForceError):
        await use.revision_in_force(catalogue, GRADE, before.replace(year=before.year - 1))
    with pytest.raises(GradeUnknownError):
        await use.revision_in_force(catalogue, "TB-13")


async def test_changes_are_told_from_the_revision_before(catalogue: DatabaseCatalogue) -> None:
    """A buyer reads what the new edition asks for; the first has none before it."""
    for lower in (1400, 1300):
        await use.add_draft(catalogue, GRADE, strength(lower))
    found = await use.changes(catalogue, GRADE, 2, None)

    assert (1, 2) == (found.since, found.until)
    assert ["removed", "added"] == [each.change for each in found.changes]
    assert [] == (await use.changes(catalogue, GRADE, 1, 1)).changes


@pytest.mark.parametrize(("number", "since", "code"), [(1, None, "nothing-before"), (1, 7, "unknown-revision")])
async def test_changes_since_nothing_are_refused(
    catalogue: DatabaseCatalogue, number: int, since: int | None, code: str
) -> None:
    """A comparison with nothing would read as if nothing had changed."""
    await use.add_draft(catalogue, GRADE, strength(1400))
    with pytest.raises(FlawedDocumentError) as raised:
        await use.changes(catalogue, GRADE, number, since)

    assert [(code, "/since")] == [(flaw.code, flaw.at) for flaw in raised.value.flaws]
