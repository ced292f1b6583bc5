"""The journal tells of every change, in an order that nobody can alter unseen, in both databases."""

import asyncio
import json
import subprocess
from hashlib import sha256
from pathlib import Path

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError

from service.engine.documents import digest_of
from service.ports.catalogue import CatalogueAwayError, SecondPersonNeededError
from service.storage import database
from service.storage.catalogue import DatabaseCatalogue
from service.storage.database import Database, metadata, migrate_database
from service.storage.journal import DatabaseJournal
from service.storage.verifying import Verified, verify
from tests.storage.test_migrating import FROM_THE_FIRST, filled
from tests.support.servers import SECONDS_TO_END, command, environment

GRADE = "TB-130"
DOCUMENT, OTHER = b'{"title":"a"}', b'{"title":"b"}'
TAMPERED = (
    ("UPDATE journal SET entry = replace(entry, 'anna', 'otto') WHERE number = 2", 2, "Entry 2 was altered"),
    ("DELETE FROM journal WHERE number = 2", 2, "Entry 2 is missing"),
    ("DELETE FROM journal WHERE number = 5", 5, "its head is entry 5"),
    (
        "UPDATE revisions SET created_at = created_at + 1 WHERE grade = 'TB-150'",
        3,
        "entry 3: in table `revisions` `created_at`",
    ),
    ("UPDATE catalogue_version SET version = 99", 0, "The catalogue's version is 99, and the journal records 2"),
    ("DELETE FROM journal_head", 6, "head is missing; the last entry is number 5"),
    ("UPDATE revisions SET specification = '{}' WHERE number = 1", 2, "in table `revisions` `specification` is"),
    ("UPDATE releases SET effective_from = effective_from + 1", 4, "in table `releases` `effective_from` is"),
    ("UPDATE releases SET released_by = 'anna'", 4, "`released_by` is `anna` and should be `otto`"),
    ("UPDATE withdrawals SET reason = 'None.'", 5, "`reason` is `None.` and should be `Too weak.`"),
    ("DELETE FROM withdrawals", 5, "is missing"),
    ("INSERT INTO revisions VALUES ('TB-130', 3, '{}', 'x', 1, 'otto')", 0, "No entry of the journal records"),
)
"""What somebody with the database's own rights may do, the entry that shows it first, and how."""


async def changed(catalogue: DatabaseCatalogue) -> None:
    """Five changes by two people."""
    await catalogue.add_draft(GRADE, OTHER, digest_of(OTHER), by="anna")
    await catalogue.replace_draft(GRADE, 1, DOCUMENT, digest_of(DOCUMENT), None, by="anna")
    await catalogue.add_draft("TB-150", DOCUMENT, digest_of(DOCUMENT), by="otto")
    await catalogue.release(GRADE, 1, None, None, by="otto")
    await catalogue.withdraw(GRADE, 1, "Too weak.", by="otto")


async def without_triggers(store: Database) -> None:
    """What somebody with the database's own rights can do first."""
    async with store.writing() as connection:
        if connection.dialect.name == "postgresql":
            for table in metadata.tables:
                await connection.execute(text(f"ALTER TABLE {table} DISABLE TRIGGER ALL"))
            return
        for (name,) in (await connection.execute(text("SELECT name FROM sqlite_master WHERE type = 'trigger'"))).all():
            await connection.execute(text(f"DROP TRIGGER {name}"))


async def test_every_change_has_an_entry_that_names_the_one_before(store: Database, catalogue: DatabaseCatalogue) -> None:
    """Who did what can be read, and the chain be checked with nothing but SHA-256."""
    await changed(catalogue)
    found = await DatabaseJournal(store).entries(0, 10)
    entries = [json.loads(bytes(entry)) for entry, _ in found]

    expected = [
        (1, "anna", "draft-added", GRADE),
        (2, "anna", "draft-replaced", GRADE),
        (3, "otto", "draft-added", "TB-150"),
        (4, "otto", "revision-released", GRADE),
        (5, "otto", "revision-withdrawn", GRADE),
    ]
    assert expected == [(entry["number"], entry["by"], entry["what"], entry["grade"]) for entry in entries]
    digests = ["sha256:" + sha256(bytes(entry)).hexdigest() for entry, _ in found]
    assert ["sha256:" + "0" * 64, *digests[:-1]] == [entry["previous"] for entry in entries]
    assert digests == [digest for _, digest in found]
    assert Verified(5, digests[-1], None) == await verify(store)


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE journal SET entry = '{}'",
        "DELETE FROM journal",
        "DELETE FROM journal WHERE number = 5",
        "INSERT INTO journal SELECT * FROM journal WHERE number = 5",
        "INSERT OR REPLACE INTO journal VALUES (5, '{}', 'x')",
        "TRUNCATE journal",
    ],
)
async def test_the_database_itself_refuses_to_change_an_entry(
    store: Database, catalogue: DatabaseCatalogue, statement: str
) -> None:
    """Nobody who only has the service's rights can tidy up behind himself; a statement that is not known is refused too."""
    await changed(catalogue)
    with pytest.raises((CatalogueAwayError, DBAPIError)):
        async with store.writing() as connection:
            await connection.execute(text(statement))

    assert (5, None) == ((found := await verify(store)).entries, found.mismatch)


@pytest.mark.parametrize(("statement", "number", "said"), TAMPERED)
async def test_verify_names_the_first_entry_that_does_not_fit(
    store: Database, catalogue: DatabaseCatalogue, statement: str, number: int, said: str
) -> None:
    """Whoever can drop triggers can still not hide what he did."""
    await changed(catalogue)
    await without_triggers(store)
    async with store.writing() as connection:
        await connection.execute(text(statement))
    mismatch = (await verify(store)).mismatch

    assert mismatch
    assert number == mismatch.number
    assert said in mismatch.text


@pytest.mark.parametrize("content", ["x", "[]", "{}", '{"number":2}'])
async def test_what_stands_for_an_entry_with_its_digest_mended_is_named(
    store: Database, catalogue: DatabaseCatalogue, content: str
) -> None:
    """Whoever writes something else, and its digest beside it, is found out by the next entry at the latest, in a sentence."""
    await changed(catalogue)
    await without_triggers(store)
    async with store.writing() as connection:
        change = text("UPDATE journal SET entry = :content, digest = :digest WHERE number = 2")
        await connection.execute(change, {"content": content, "digest": digest_of(content.encode())})
    mismatch = (await verify(store)).mismatch

    assert mismatch
    assert 2 == mismatch.number


async def test_whoever_writes_meanwhile_is_no_misfit(store: Database, catalogue: DatabaseCatalogue) -> None:
    """A mill that verifies by day, while grades are written, is not called at night."""
    documents = [b'{"n":%d}' % number for number in range(40)]

    async def write() -> None:
        for document in documents:
            await catalogue.add_draft(GRADE, document, digest_of(document), by="anna")
            await catalogue.release(GRADE, documents.index(document) + 1, None, None, by="otto")

    writing, mismatches = asyncio.create_task(write()), []
    while not writing.done():
        mismatches.append((await verify(store)).mismatch)
    await writing

    assert {None} == set(mismatches)
    assert 2 * len(documents) == (await verify(store)).entries


async def test_two_processes_that_write_keep_one_chain(database_url: str, tmp_path: Path) -> None:
    """Replicas append to one journal, and no entry is lost or numbered twice."""
    settings = environment(tmp_path, DATABASE_URL=database_url)
    lines = [command("key", "add", f"station-{number}", "--scope", "check") for number in range(6)]
    writers = [await asyncio.create_subprocess_exec(*line, env=settings, stdout=subprocess.PIPE) for line in lines]
    async with asyncio.timeout(SECONDS_TO_END):
        await asyncio.gather(*(writer.communicate() for writer in writers))
    opened = database(database_url)
    found = await verify(opened)

    assert [0] * 6 == [writer.returncode for writer in writers]
    assert (6, None) == (found.entries, found.mismatch)
    await opened.close()


async def test_a_head_that_was_noted_shows_a_journal_that_was_cut(store: Database, catalogue: DatabaseCatalogue) -> None:
    """Entries cut off the end, with the head and the tables mended, fit by themselves; a digest noted elsewhere tells."""
    await changed(catalogue)
    noted = (await verify(store)).head
    await without_triggers(store)
    async with store.writing() as connection:
        await connection.execute(text("DELETE FROM withdrawals"))
        await connection.execute(text("UPDATE catalogue_version SET version = 1"))
        await connection.execute(text("DELETE FROM journal WHERE number = 5"))
        await connection.execute(
            text("UPDATE journal_head SET number = 4, digest = (SELECT digest FROM journal WHERE number = 4)")
        )

    assert (await verify(store)).mismatch is None
    mismatch = (await verify(store, noted)).mismatch
    assert mismatch
    assert f"The journal has no entry {noted}, so entries are missing at its end." == mismatch.text


async def test_who_wrote_a_revision_does_not_release_it_too(catalogue: DatabaseCatalogue) -> None:
    """A grade decides what is shipped, so two people have read it; the last who wrote in it counts."""
    await catalogue.add_draft(GRADE, OTHER, digest_of(OTHER), by="otto")
    await catalogue.replace_draft(GRADE, 1, DOCUMENT, digest_of(DOCUMENT), None, by="anna")
    with pytest.raises(SecondPersonNeededError, match=r"`anna` was the last to write revision 1 of TB-130\. Have another"):
        await catalogue.release(GRADE, 1, None, None, by="anna")
    released = await catalogue.release(GRADE, 1, None, None, by="otto")

    assert ("anna", "otto") == (released.author, getattr(released, "released_by", None))


async def test_where_one_person_may_release_the_journal_says_so(store: Database, catalogue: DatabaseCatalogue) -> None:
    """A mill with one manager can set it, and an auditor finds each time that it was used."""
    await catalogue.add_draft(GRADE, DOCUMENT, digest_of(DOCUMENT), by="anna")
    await catalogue.release(GRADE, 1, None, None, by="anna", one_person_may=True)
    await catalogue.add_draft("TB-150", DOCUMENT, digest_of(DOCUMENT), by="anna")
    await catalogue.release("TB-150", 1, None, None, by="otto", one_person_may=True)
    entries = [json.loads(bytes(entry)) for entry, _ in await DatabaseJournal(store).entries(0, 9)]

    assert [None, True, None, None] == [entry.get("one_person") for entry in entries]


async def test_what_was_there_before_the_journal_has_its_entries(empty_url: str) -> None:
    """A mill that upgrades finds its grades told of, in the order in which they came."""
    await filled(empty_url)
    await migrate_database(empty_url)
    opened = database(empty_url)
    entries = [json.loads(bytes(entry)) for entry, _ in await DatabaseJournal(opened).entries(0, 9)]

    assert len(FROM_THE_FIRST) - 2 == len(entries)
    expected = ["draft-added", "revision-released", "draft-added", "revision-withdrawn"]
    assert expected == [entry["what"] for entry in entries]
    assert {"local"} == {entry["by"] for entry in entries}
    await opened.close()
