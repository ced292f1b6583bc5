"""A copy of the database in one file: of one moment, found out where it is not whole, and good for either database."""

import asyncio
import gzip
import json
from pathlib import Path

import pytest

from service.engine.digests import digest_of
from service.ports import Scope
from service.storage import Database, DatabaseCatalogue, DatabaseKeys, database
from service.storage.copying import CopyError, back_up, restore
from service.storage.migrating import migrate_database
from service.storage.tables import metadata
from service.storage.verifying import verify
from service.usecases import catalogue as use
from service.usecases.keys import add_key
from tests.support.postgresql import new_database
from tests.support.shelves import strength

GRADE = "TB-130"


async def filled(store: Database) -> None:
    """Two revisions, one withdrawn, and a key."""
    catalogue = DatabaseCatalogue(store)
    for lower in (1400, 1500):
        draft, _ = await use.add_draft(catalogue, GRADE, strength(lower), by="anna")
        await catalogue.release(GRADE, draft.number, None, None, by="otto")
    await catalogue.withdraw(GRADE, 1, "Too weak: é, “” and \u2028.", by="otto")
    await add_key(DatabaseKeys(store), "station-7", frozenset({Scope.CHECK}), None)


async def all_rows(store: Database) -> dict[str, list[tuple[object, ...]]]:
    """All that is kept, by table."""
    async with store.reading() as connection:
        return {
            each.name: sorted(map(tuple, (await connection.execute(each.select())).all()), key=repr)
            for each in metadata.sorted_tables
        }


async def restored(url: str, file: Path) -> Database:
    """A database made from a copy."""
    opened = database(url)
    await restore(opened, url, file)
    return opened


def names_like(file: Path) -> list[str]:
    """The names in a file's folder that have its own in them."""
    return [each.name for each in file.parent.iterdir() if file.name in each.name]


async def refused(folder: Path, file: Path, said: str) -> None:
    """A copy that a new database is not made from, and why."""
    url = f"sqlite:///{folder}/new.db"
    opened = database(url)
    with pytest.raises(CopyError, match=said):
        await restore(opened, url, file)

    assert await DatabaseCatalogue(opened).tables() is None
    await opened.close()


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
        assert (head, None) == (found.head, found.misfit)
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
        assert found.misfit is None
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

    await refused(tmp_path, file, r"is empty|is no copy|was cut off")


async def test_a_copy_that_was_altered_makes_nothing(store: Database, tmp_path: Path) -> None:
    """One digit of a limit is enough."""
    await filled(store)
    file = tmp_path / "copy.ndjson"
    await back_up(store, file)
    file.write_bytes(file.read_bytes().replace(b"1500", b"1300", 1))

    await refused(tmp_path, file, "was altered")


async def test_a_compressed_copy_that_was_cut_off_is_told(store: Database, tmp_path: Path) -> None:
    """A disk that was full leaves such a file."""
    await filled(store)
    file = tmp_path / "copy.gz"
    await back_up(store, file)
    file.write_bytes(file.read_bytes()[:-20])

    await refused(tmp_path, file, "was cut off or altered")


async def test_nothing_that_is_kept_is_replaced(store: Database, database_url: str, tmp_path: Path) -> None:
    """Whoever names the wrong database loses nothing."""
    await filled(store)
    file = tmp_path / "copy.ndjson"
    await back_up(store, file)
    before = await all_rows(store)
    with pytest.raises(CopyError, match="is not empty"):
        await restore(store, database_url, file)

    assert before == await all_rows(store)


async def test_a_copy_has_its_name_for_itself(store: Database, tmp_path: Path) -> None:
    """The copy of yesterday is not written over, and nobody else on the machine reads one."""
    file = tmp_path / "copy.ndjson"
    await back_up(store, file)
    with pytest.raises(CopyError, match="is there already"):
        await back_up(store, file)

    assert 0o600 == file.stat().st_mode & 0o777
    assert [file.name] == names_like(file)


async def test_a_copy_of_older_tables_is_brought_up_to_date(database_url: str, tmp_path: Path) -> None:
    """A copy of two years ago, made by the release of then, gives its grades to the release of today."""
    columns = {
        "grades": ["code", "created_at"],
        "revisions": ["grade", "number", "specification", "digest", "created_at", "author"],
        "catalogue_version": ["id", "version"],
        "journal_head": ["id", "number", "digest"],
    }
    nothing = "sha256:" + "0" * 64
    header = {"kind": "markeryarn backup", "format": 1, "tables": "0002", "at": "", "entries": 0, "head": nothing}
    lines = [
        {**header, "columns": columns},
        ["grades", GRADE, 1],
        ["revisions", GRADE, 1, "{}", digest_of(b"{}"), 1, "anna"],
        ["catalogue_version", 1, 0],
        ["journal_head", 1, 0, nothing],
    ]
    content = b"".join(json.dumps(line).encode() + b"\n" for line in lines)
    end = {"rows": len(lines) - 1, "sha256": digest_of(content).removeprefix("sha256:")}
    file = tmp_path / "old.gz"
    file.write_bytes(gzip.compress(content + json.dumps(end).encode() + b"\n"))
    await migrate_database(database_url)
    made = await restored(database_url, file)

    (revision,) = await DatabaseCatalogue(made).revisions(GRADE, 0, 9)
    assert ("anna", digest_of(b"{}")) == (revision.author, revision.digest)
    await made.close()


async def test_a_copy_of_a_newer_release_is_refused(store: Database, tmp_path: Path) -> None:
    """It may hold what this release would lose."""
    file = tmp_path / "copy.ndjson"
    await back_up(store, file)
    first, *rows, last = file.read_bytes().splitlines(keepends=True)
    content = b"".join([json.dumps({**json.loads(first), "tables": "9999"}).encode() + b"\n", *rows])
    end = {**json.loads(last), "sha256": digest_of(content).removeprefix("sha256:")}
    file.write_bytes(content + json.dumps(end).encode() + b"\n")

    await refused(tmp_path, file, "has tables of version 9999, and this release works on")
