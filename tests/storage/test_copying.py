"""A copy of the database in one file: of one moment, found out where it is not whole, and good for either database."""

import asyncio
import json
from collections.abc import Iterable
from pathlib import Path

import pytest
from sqlalchemy import text

from service.engine.documents import digest_of
from service.ports.catalogue import Scope
from service.storage import database
from service.storage.catalogue import DatabaseCatalogue
from service.storage.copying import CopyError, back_up, restore
from service.storage.database import Database, metadata, migrate_database
from service.storage.instruments import DatabaseInstruments
from service.storage.keys import DatabaseKeys
from service.storage.verifying import verify
from service.usecases.grades import catalogue as use
from service.usecases.keys.issuing import add_key
from tests.storage.test_journal import without_triggers
from tests.support.databases import new_database
from tests.support.grade_caches import strength

GRADE = "TB-130"


async def filled(store: Database) -> None:
    """Two revisions, one withdrawn, a key, and an instrument in two versions."""
    catalogue = DatabaseCatalogue(store)
    for lower in (1400, 1500):
        draft, _ = await use.add_draft(catalogue, GRADE, strength(lower), by="anna")
        await catalogue.release(GRADE, draft.number, None, None, by="otto")
    await catalogue.withdraw(GRADE, 1, "Too weak: é, “” and \u2028.", by="otto")
    await add_key(DatabaseKeys(store), "station-7", frozenset({Scope.CHECK}), None)
    for document in (b'{"measures":["force"]}', b'{"measures":["force","ratio"]}'):
        await DatabaseInstruments(store).put("TT-2", document, by="anna")


async def all_rows(store: Database) -> dict[str, list[tuple[object, ...]]]:
    """All that is kept, by table."""
    async with store.reading() as connection:
        return {
            each.name: sorted(map(tuple, (await connection.execute(each.select())).all()), key=repr)
            for each in metadata.sorted_tables
        }


async def restored(url: str, file: Path) -> Database:
    """A database made from a copy."""
    await restore(url, file)
    return database(url)


def names_like(file: Path) -> list[str]:
    """The names in a file's folder that have its own in them."""
    return [each.name for each in file.parent.iterdir() if file.name in each.name]


async def refused(url: str, file: Path, said: str) -> None:
    """A copy that a new database is not made from, and why; it is as empty as it was."""
    with pytest.raises(CopyError, match=said):
        await restore(url, file)
    opened = database(url)

    assert await DatabaseCatalogue(opened).tables_version() is None
    await opened.close()


@pytest.fixture(params=["sqlite", "postgresql"])
def new_url(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """The URL of another empty database, on each of both."""
    if request.param == "sqlite":
        return f"sqlite:///{tmp_path}/new.db"
    return new_database(request.getfixturevalue("postgresql_server"))


def ended_anew(file: Path, lines: Iterable[bytes]) -> None:
    """Write a copy of these lines, with a last one that says so."""
    kept = list(lines)
    end = {"rows": len(kept) - 1, "sha256": digest_of(b"".join(kept)).removeprefix("sha256:")}
    file.write_bytes(b"".join([*kept, json.dumps(end).encode() + b"\n"]))


@pytest.mark.parametrize("name", ["copy.ndjson", "copy.gz"])
async def test_a_copy_goes_from_one_database_to_the_other_and_back(
    store: Database, postgresql_server: str, tmp_path: Path, name: str
) -> None:
    """A mill that outgrows the embedded file takes all with it, to the byte, and can go back."""
    await filled(store)
    rows, head = await all_rows(store), (await verify(store)).head
    first, second = tmp_path / f"1-{name}", tmp_path / f"2-{name}"
    await back_up(store, first)
    other = await restored(await asyncio.to_thread(new_database, postgresql_server), first)
    await back_up(other, second)
    back = await restored(f"sqlite:///{tmp_path}/back.db", second)

    for made in (other, back):
        assert rows == await all_rows(made)
        found = await verify(made, head)
        assert (head, None) == (found.head, found.mismatch)
        await made.close()


async def test_a_copy_is_of_one_moment_whoever_writes_meanwhile(store: Database, database_url: str, tmp_path: Path) -> None:
    """The service goes on while it is copied, and no copy has half of a change."""
    documents = [b'{"n":%d}' % number for number in range(30)]

    async def write() -> None:
        for document in documents:
            await DatabaseCatalogue(store).add_draft(GRADE, document, digest_of(document), by="anna")

    writing, copies = asyncio.create_task(write()), list[Path]()
    reader = database(database_url)
    while not writing.done():
        copies.append(tmp_path / f"{len(copies)}.ndjson")
        await back_up(reader, copies[-1])
    await writing
    await reader.close()
    entries = []
    for number in sorted({0, len(copies) // 2, len(copies) - 1}):
        made = await restored(f"sqlite:///{tmp_path}/{number}.db", copies[number])
        found = await verify(made)
        entries.append(found.entries)
        assert found.mismatch is None
        await made.close()

    assert sorted(entries) == entries


@pytest.mark.parametrize("kept", [0.0, 0.2, 0.5, 0.9, 0.999])
async def test_a_copy_that_was_cut_off_makes_nothing(store: Database, tmp_path: Path, kept: float) -> None:
    """Half a season of grades would be worse than none, as nobody would look for the rest."""
    await filled(store)
    file = tmp_path / "copy.ndjson"
    await back_up(store, file)
    content = file.read_bytes()
    file.write_bytes(content[: int(len(content) * kept)])

    await refused(f"sqlite:///{tmp_path}/new.db", file, r"is empty|is not a copy|was cut off")


async def test_a_copy_that_was_altered_makes_nothing(store: Database, tmp_path: Path) -> None:
    """One digit of a limit is enough."""
    await filled(store)
    file = tmp_path / "copy.ndjson"
    await back_up(store, file)
    file.write_bytes(file.read_bytes().replace(b"1500", b"1300", 1))

    await refused(f"sqlite:///{tmp_path}/new.db", file, "was altered")


async def test_a_copy_of_what_was_altered_makes_nothing(store: Database, new_url: str, tmp_path: Path) -> None:
    """Somebody has altered a limit in the database itself: the copy is as it should be, and its journal tells."""
    await filled(store)
    await without_triggers(store)
    async with store.writing() as connection:
        await connection.execute(text("UPDATE revisions SET specification = replace(specification, '1500', '1300')"))
    file = tmp_path / "copy.ndjson"
    await back_up(store, file)

    await refused(new_url, file, "The copy does not match its journal: .*--keep-misfit")


async def test_who_has_no_other_copy_may_keep_what_does_not_fit(store: Database, new_url: str, tmp_path: Path) -> None:
    """All other grades are still good, and what does not fit is told each time."""
    await filled(store)
    await without_triggers(store)
    async with store.writing() as connection:
        await connection.execute(text("UPDATE revisions SET author = 'otto' WHERE number = 2"))
    file, rows = tmp_path / "copy.ndjson", await all_rows(store)
    await back_up(store, file)
    found = (await restore(new_url, file, keep_mismatch=True)).found
    opened = database(new_url)

    assert found.mismatch
    assert found == await verify(opened)
    assert rows == await all_rows(opened)
    await opened.close()


@pytest.mark.parametrize(
    "line", [b'["grades","TB-130",1]', b'["revisions","TB-999",1,"{}","d",1,"anna"]', b'["keys","x"]', b'["x",1]']
)
async def test_a_copy_with_rows_that_do_not_belong_makes_nothing(
    store: Database, new_url: str, tmp_path: Path, line: bytes
) -> None:
    """A row twice, one of a grade that is not there, one that is too short, one of a table that nobody knows."""
    await filled(store)
    file = tmp_path / "copy.ndjson"
    await back_up(store, file)
    ended_anew(file, [*file.read_bytes().splitlines(keepends=True)[:-1], line + b"\n"])

    await refused(new_url, file, "The copy has rows")


async def test_a_database_with_tables_of_others_is_not_empty(store: Database, new_url: str, tmp_path: Path) -> None:
    """Whoever names the database of the ERP loses nothing, and mixes nothing with it."""
    file, other = tmp_path / "copy.ndjson", database(new_url)
    await back_up(store, file)
    async with other.writing() as connection:
        await connection.execute(text("CREATE TABLE orders (id INTEGER)"))
    await other.close()

    await refused(new_url, file, "has the table `orders`, which is not one of this service")


async def test_tables_that_were_there_stay_as_they_are_where_a_copy_is_refused(
    store: Database, new_url: str, tmp_path: Path
) -> None:
    """Empty ones, made by a service that was started too early; the next copy is put into them."""
    await filled(store)
    file, other = tmp_path / "copy.ndjson", tmp_path / "other.ndjson"
    await back_up(store, file)
    ended_anew(other, [*file.read_bytes().splitlines(keepends=True)[:-1], b'["grades","TB-130",1]\n'])
    await migrate_database(new_url)
    opened = database(new_url)
    before = await all_rows(opened)
    with pytest.raises(CopyError, match="The copy has rows of `grades`"):
        await restore(new_url, other)

    assert before == await all_rows(opened)
    await restore(new_url, file)
    assert await all_rows(store) == await all_rows(opened)
    await opened.close()


async def test_a_compressed_copy_that_was_cut_off_is_told(store: Database, tmp_path: Path) -> None:
    """A disk that was full leaves such a file."""
    await filled(store)
    file = tmp_path / "copy.gz"
    await back_up(store, file)
    file.write_bytes(file.read_bytes()[:-20])

    await refused(f"sqlite:///{tmp_path}/new.db", file, "was cut off or altered")


async def test_nothing_that_is_kept_is_replaced(store: Database, database_url: str, tmp_path: Path) -> None:
    """Whoever names the wrong database loses nothing."""
    await filled(store)
    file = tmp_path / "copy.ndjson"
    await back_up(store, file)
    before = await all_rows(store)
    with pytest.raises(CopyError, match="is not empty"):
        await restore(database_url, file)

    assert before == await all_rows(store)


async def test_a_copy_has_its_name_for_itself(store: Database, tmp_path: Path) -> None:
    """The copy of yesterday is not written over, and nobody else on the machine reads one."""
    file = tmp_path / "copy.ndjson"
    await back_up(store, file)
    with pytest.raises(CopyError, match="already exists"):
        await back_up(store, file)

    assert 0o600 == file.stat().st_mode & 0o777
    assert [file.name] == names_like(file)


@pytest.mark.parametrize("version", ["0001", "0002", "0003", "0004"])
async def test_older_tables_are_copied_before_they_are_migrated(
    empty_url: str, new_url: str, tmp_path: Path, version: str
) -> None:
    """Whoever installs a release has a copy from before it touches anything, and the copy gives its grades to that release."""
    await migrate_database(empty_url, "0001")
    opened, file = database(empty_url), tmp_path / "old.gz"
    row = {"grade": GRADE, "document": "{}", "digest": digest_of(b"{}")}
    async with opened.writing() as connection:
        await connection.execute(text("INSERT INTO grades (code, created_at) VALUES (:grade, 1)"), row)
        into = (
            "INSERT INTO revisions (grade, number, specification, digest, created_at) VALUES (:grade, 1, :document, :digest, 1)"
        )
        await connection.execute(text(into), row)
    await migrate_database(empty_url, version)
    copied = await back_up(opened, file)
    tables = await DatabaseCatalogue(opened).tables_version()
    found = (await restore(new_url, file)).found
    made = database(new_url)
    (revision,) = await DatabaseCatalogue(made).revisions(GRADE, 0, 9)

    assert version == copied.header.tables == (tables and tables.version)
    assert (1, None) == (found.entries, found.mismatch)
    assert ("local", row["digest"]) == (revision.author, revision.digest)
    await opened.close()
    await made.close()


async def test_there_is_nothing_to_copy_without_tables(empty_url: str, tmp_path: Path) -> None:
    """A wrong name of a file would else give a copy of nothing each night."""
    opened = database(empty_url)
    with pytest.raises(CopyError, match="has no tables, so there is nothing to copy"):
        await back_up(opened, tmp_path / "copy.gz")
    await opened.close()


async def test_newer_tables_are_copied_by_their_release(store: Database, tmp_path: Path) -> None:
    """An older one would leave out what it does not know."""
    async with store.writing() as connection:
        await connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    with pytest.raises(CopyError, match="has tables of version 9999, and this release knows"):
        await back_up(store, tmp_path / "copy.gz")


async def test_a_copy_of_a_newer_release_is_refused(store: Database, tmp_path: Path) -> None:
    """It may hold what this release would lose."""
    file = tmp_path / "copy.ndjson"
    await back_up(store, file)
    first, *rows, _ = file.read_bytes().splitlines(keepends=True)
    ended_anew(file, [json.dumps({**json.loads(first), "tables": "9999"}).encode() + b"\n", *rows])

    await refused(f"sqlite:///{tmp_path}/new.db", file, "has tables of version 9999, and this release knows")
