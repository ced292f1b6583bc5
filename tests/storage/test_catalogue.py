"""The promises of the catalogue's port, kept in both databases."""

import asyncio
from datetime import timedelta

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError

from service.engine.documents import FlawedDocumentError
from service.ports.catalogue import (
    GradeEntry,
    GradeUnknownError,
    Released,
    RevisionIsDraftError,
    RevisionIsReleasedError,
    RevisionIsWithdrawnError,
    RevisionUnknownError,
    SpecificationHasChangedError,
    Withdrawn,
)
from service.storage.catalogue import DatabaseCatalogue
from service.storage.database import Database

GRADE = "TB-130"


async def test_drafts_are_numbered_from_1(catalogue: DatabaseCatalogue) -> None:
    """A buyer quotes "revision 2", so numbers have no gaps."""
    made = [await catalogue.add_draft(GRADE, b"{}", digest) for digest in ("a", "b", "c")]

    assert [1, 2, 3] == [draft.number for draft, _ in made]


async def test_a_draft_sent_twice_is_one_draft(catalogue: DatabaseCatalogue) -> None:
    """A client whose connection broke sends again and gets the draft that it made."""
    first, is_new = await catalogue.add_draft(GRADE, b"{}", "a")

    assert is_new
    assert (first, False) == await catalogue.add_draft(GRADE, b"{}", "a")


async def test_a_released_document_sent_again_is_a_new_draft(catalogue: DatabaseCatalogue) -> None:
    """Only drafts are repeated; what is released is not handed out as if it could still be changed."""
    await catalogue.add_draft(GRADE, b"{}", "a")
    await catalogue.release(GRADE, 1, None, None)
    second, is_new = await catalogue.add_draft(GRADE, b"{}", "a")

    assert (2, True) == (second.number, is_new)


async def test_the_newest_draft_sent_again_is_found_behind_a_released_revision(catalogue: DatabaseCatalogue) -> None:
    """Somebody may have released another revision while the answer to the draft was lost."""
    first, _ = await catalogue.add_draft(GRADE, b"{}", "a")
    await catalogue.add_draft(GRADE, b"{}", "b")
    await catalogue.release(GRADE, 2, None, None)

    assert (first, False) == await catalogue.add_draft(GRADE, b"{}", "a")


async def test_twenty_different_drafts_at_once_get_twenty_numbers(catalogue: DatabaseCatalogue) -> None:
    """No document is lost where many people write at once."""
    made = await asyncio.gather(*(catalogue.add_draft(GRADE, b"{}", str(n)) for n in range(20)))

    assert list(range(1, 21)) == sorted(draft.number for draft, _ in made)


async def test_twenty_equal_drafts_at_once_are_one(catalogue: DatabaseCatalogue) -> None:
    """A client that repeats in haste makes one draft."""
    made = await asyncio.gather(*(catalogue.add_draft(GRADE, b"{}", "a") for _ in range(20)))

    assert {1} == {draft.number for draft, _ in made}
    assert 1 == sum(is_new for _, is_new in made)


async def test_a_document_is_kept_byte_for_byte(catalogue: DatabaseCatalogue) -> None:
    """The digest is of these bytes, years later too."""
    document = '{"title":"Zwirn ä € 😀"}'.encode()
    await catalogue.add_draft(GRADE, document, "a")

    assert document == await catalogue.specification(GRADE, 1)


async def test_a_draft_is_replaced_if_it_is_the_expected_one(catalogue: DatabaseCatalogue) -> None:
    """Two people who edit one draft do not overwrite each other unseen."""
    await catalogue.add_draft(GRADE, b"{}", "a")
    await catalogue.replace_draft(GRADE, 1, b"[]", "b", frozenset({"a"}))
    with pytest.raises(SpecificationHasChangedError, match="its digest is b now"):
        await catalogue.replace_draft(GRADE, 1, b"1", "c", frozenset({"a"}))

    assert b"[]" == await catalogue.specification(GRADE, 1)


async def test_a_released_revision_refuses_a_change(catalogue: DatabaseCatalogue) -> None:
    """What lots were judged by stays as it was."""
    await catalogue.add_draft(GRADE, b"{}", "a")
    await catalogue.release(GRADE, 1, None, None)
    with pytest.raises(RevisionIsReleasedError):
        await catalogue.replace_draft(GRADE, 1, b"[]", "b", None)
    with pytest.raises(RevisionIsReleasedError):
        await catalogue.release(GRADE, 1, None, None)

    assert b"{}" == await catalogue.specification(GRADE, 1)


async def test_a_release_without_a_moment_is_in_force_at_once(catalogue: DatabaseCatalogue) -> None:
    """The manager releases and the stations judge by it."""
    await catalogue.add_draft(GRADE, b"{}", "a")
    released = await catalogue.release(GRADE, 1, None, None)

    assert isinstance(released, Released)
    assert released.released_at == released.effective_from


async def test_a_release_from_a_moment_to_come_keeps_it(catalogue: DatabaseCatalogue) -> None:
    """A grade that changes at the turn of the year is released before."""
    await catalogue.add_draft(GRADE, b"{}", "a")
    moment = (await catalogue.current_state()).now + timedelta(days=1, microseconds=1)
    released = await catalogue.release(GRADE, 1, moment, None)

    assert isinstance(released, Released)
    assert moment == released.effective_from


async def test_a_release_from_a_past_moment_is_a_flaw(catalogue: DatabaseCatalogue) -> None:
    """Lots that were judged already would have been judged otherwise; nothing is released then."""
    await catalogue.add_draft(GRADE, b"{}", "a")
    moment = (await catalogue.current_state()).now - timedelta(seconds=1)
    with pytest.raises(FlawedDocumentError) as caught:
        await catalogue.release(GRADE, 1, moment, None)

    assert ["/effective_from"] == [flaw.at for flaw in caught.value.flaws]
    assert [] == await catalogue.final_revisions(GRADE)
    assert 0 == (await catalogue.current_state()).version


async def test_a_release_of_another_document_than_the_read_one_is_refused(catalogue: DatabaseCatalogue) -> None:
    """One releases what one has read."""
    await catalogue.add_draft(GRADE, b"{}", "a")
    with pytest.raises(SpecificationHasChangedError):
        await catalogue.release(GRADE, 1, None, frozenset({"b"}))

    assert [] == await catalogue.final_revisions(GRADE)


async def test_a_withdrawal_is_for_good_and_says_why(catalogue: DatabaseCatalogue) -> None:
    """Who answers a claim reads when and why the revision went."""
    await catalogue.add_draft(GRADE, b"{}", "a")
    with pytest.raises(RevisionIsDraftError):
        await catalogue.withdraw(GRADE, 1, "too weak")
    await catalogue.release(GRADE, 1, None, None)
    withdrawn = await catalogue.withdraw(GRADE, 1, "too weak")
    with pytest.raises(RevisionIsWithdrawnError):
        await catalogue.withdraw(GRADE, 1, "again")

    assert isinstance(withdrawn, Withdrawn)
    assert "too weak" == withdrawn.reason
    assert withdrawn == await catalogue.revision(GRADE, 1)


async def test_codes_are_ordered_by_their_bytes(catalogue: DatabaseCatalogue) -> None:
    """A cursor goes through all grades, whatever the database's language."""
    for code in ("b", "a", "B", "a.1", "a_1", "a-1"):
        await catalogue.add_draft(code, b"{}", "a")
    await catalogue.add_draft("B", b"{}", "b")

    assert [GradeEntry("B", 2), GradeEntry("a", 1), GradeEntry("a-1", 1)] == await catalogue.grades("", 3)
    assert ["a.1", "a_1", "b"] == [entry.grade for entry in await catalogue.grades("a-1", 9)]


async def test_revisions_go_on_after_a_number(catalogue: DatabaseCatalogue) -> None:
    """A grade of many years is read page by page."""
    for digest in "abc":
        await catalogue.add_draft(GRADE, b"{}", digest)

    assert [2] == [revision.number for revision in await catalogue.revisions(GRADE, 1, 1)]


async def test_what_is_not_there_is_said(catalogue: DatabaseCatalogue) -> None:
    """A wrong code and a wrong number are told apart."""
    await catalogue.add_draft(GRADE, b"{}", "a")
    with pytest.raises(GradeUnknownError, match="There is no grade `TB-13`"):
        await catalogue.specification("TB-13", 1)
    with pytest.raises(RevisionUnknownError, match="TB-130 has no revision 2"):
        await catalogue.release(GRADE, 2, None, None)


async def test_releases_and_withdrawals_raise_the_version(catalogue: DatabaseCatalogue) -> None:
    """Replicas watch one number, and learn which grades to read again; drafts do not disturb them."""
    for code in ("a", "b"):
        await catalogue.add_draft(code, b"{}", "a")
    await catalogue.release("a", 1, None, None)
    await catalogue.release("b", 1, None, None)
    await catalogue.withdraw("a", 1, "too weak")

    assert 3 == (await catalogue.current_state()).version
    assert ["a", "b"] == await catalogue.changed_since(1)
    assert ["a"] == await catalogue.changed_since(2)
    assert [] == await catalogue.changed_since(3)


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE revisions SET specification = '[]'",
        "DELETE FROM revisions",
        "UPDATE releases SET effective_from = 0",
        "DELETE FROM releases",
        "UPDATE withdrawals SET reason = ''",
        "DELETE FROM withdrawals",
    ],
)
async def test_the_database_itself_keeps_what_is_released(
    catalogue: DatabaseCatalogue, store: Database, statement: str
) -> None:
    """Somebody with a database console cannot change what lots were judged by."""
    await catalogue.add_draft(GRADE, b"{}", "a")
    await catalogue.release(GRADE, 1, None, None)
    await catalogue.withdraw(GRADE, 1, "too weak")
    with pytest.raises(DBAPIError, match="what is released never changes"):
        async with store.engine.begin() as connection:
            await connection.execute(text(statement))


async def test_grades_are_found_by_the_article_of_what_is_released(catalogue: DatabaseCatalogue) -> None:
    """Drafts are of no article yet; a withdrawn revision still is. Each grade stands once, and they go on after a code."""
    twine, rope = b'{"article":"baler twine"}', b'{"article":"rope"}'
    for grade, *documents in (("C", twine, twine), ("A", rope, twine), ("B", rope), ("D", b"{}"), ("E", b"[]")):
        for number, document in enumerate(documents, start=1):
            await catalogue.add_draft(grade, document, f"{grade}{number}")
            await catalogue.release(grade, number, None, None)
    await catalogue.add_draft("F", twine, "f")
    await catalogue.add_draft("G", b'{"article":"yarn"}', "g")
    await catalogue.withdraw("B", 1, "No more made.")

    assert ["A", "C"] == await catalogue.grades_of_article("baler twine", "", 9)
    assert (["A"], ["C"]) == (
        await catalogue.grades_of_article("baler twine", "", 1),
        await catalogue.grades_of_article("baler twine", "A", 1),
    )
    assert ["A", "B"] == await catalogue.grades_of_article("rope", "", 9)
    assert [] == await catalogue.grades_of_article("yarn", "", 9)
    assert (["baler twine", "rope"], ["baler twine"]) == (await catalogue.articles(9), await catalogue.articles(1))
