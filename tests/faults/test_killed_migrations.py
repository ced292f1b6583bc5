"""A migration that is killed: whatever it had done is undone, and the next one does all of it."""

import asyncio
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from service.storage import database
from service.storage.catalogue import DatabaseCatalogue
from service.storage.database import SCHEMA, migrate_database
from tests.support.databases import new_database
from tests.support.servers import SECONDS_TO_END, environment
from tests.support.sizes import of_two

KILLS = of_two(4, 20)
NEVER = 10**9
FIRST = "0001"
KEPT = "INSERT INTO grades VALUES ('TB-130', 1767225600000000)"
DRAFT = "INSERT INTO revisions (grade, number, specification, digest, created_at) VALUES ('TB-130', 1, '{}', 'sha256:1', 0)"


def migrated(folder: Path, url: str, dies_at: int) -> subprocess.CompletedProcess[str]:
    """What becomes of a migration in a process of its own that dies at its n-th statement."""
    words = [sys.executable, "-m", "tests.faults.dying", url, str(dies_at)]
    return subprocess.run(words, env=environment(folder), capture_output=True, text=True, check=False, timeout=SECONDS_TO_END)


async def filled(url: str) -> None:
    """Tables of the first version with a draft in them."""
    await migrate_database(url, FIRST)
    opened = database(url)
    async with opened.writing() as connection:
        await connection.exec_driver_sql(KEPT)
        await connection.exec_driver_sql(DRAFT)
    await opened.close()


async def state(url: str) -> tuple[str | None, int]:
    """(version of the tables, drafts in them)."""
    opened = database(url)
    tables = await DatabaseCatalogue(opened).tables_version()
    version = tables.version if tables else None
    drafts = 0
    if version is not None:
        async with opened.reading() as connection:
            drafts = (await connection.exec_driver_sql("SELECT count(*) FROM revisions")).scalar_one()
    await opened.close()
    return version, drafts


def statements(folder: Path, url: str) -> int:
    """How many a migration takes there that nobody kills."""
    lived = migrated(folder, url, NEVER)
    assert 0 == lived.returncode, lived.stderr
    return int(lived.stdout)


@pytest.mark.parametrize("drafts", [0, 1], ids=["from nothing", "from the first tables"])
@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
async def test_a_killed_migration_leaves_what_was_and_the_next_does_all(
    request: pytest.FixtureRequest, tmp_path: Path, kind: str, drafts: int
) -> None:
    """Power fails while a mill upgrades: nobody has to mend tables by hand."""
    server = request.getfixturevalue("postgresql_server") if kind == "postgresql" else ""

    def fresh(name: str) -> str:
        return new_database(server) if server else f"sqlite:///{tmp_path / name}.db"

    async def begun(name: str) -> str:
        url = await asyncio.to_thread(fresh, name)
        if drafts:
            await filled(url)
        return url

    most = statements(tmp_path, await begun("whole"))
    places = sorted({1 + place * (most - 1) // (KILLS - 1) for place in range(KILLS)})
    url = await begun("killed")
    before = await state(url)
    for at in places:
        assert -signal.SIGKILL == migrated(tmp_path, url, at).returncode, at
        assert before == await state(url), at
    assert 0 == migrated(tmp_path, url, NEVER).returncode
    assert (SCHEMA, drafts) == await state(url)
