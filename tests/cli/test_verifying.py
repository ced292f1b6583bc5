"""The commands `verify` and `journal`: an auditor sits at the console, with nothing but SHA-256 to trust."""

import asyncio
import sqlite3
from contextlib import closing
from hashlib import sha256
from pathlib import Path

import msgspec
import pytest

from service.engine.documents import digest_of
from service.engine.grade import Specification
from service.engine.ledger import Closing, Opening
from service.engine.requirements import LimitedRule
from service.storage import database
from service.storage.catalogue import DatabaseCatalogue
from service.storage.database import migrate_database, open_database
from service.storage.lots import DatabaseLedger
from service.usecases.grades import GradeCache
from service.usecases.lots.closing import close_lot
from service.usecases.lots.opening import open_lot
from service.usecases.lots.readings import record_batch
from tests.support.commands import run
from tests.support.grade_caches import release_as
from tests.support.grades import FORCE, each, fixed, grade
from tests.support.ledgers import BY, GRADE, LOT, batch
from tests.support.ledgers import opened as opened_lot

NOTHING = "sha256:" + "0" * 64


def filled(folder: Path) -> str:
    """The URL of a database with two drafts."""
    url = f"sqlite:///{folder}/grades.db"

    async def fill() -> None:
        await migrate_database(url)
        kept = database(url)
        for code in ("TB-130", "TB-150"):
            await DatabaseCatalogue(kept).add_draft(code, b"{}", digest_of(b"{}"), by="anna")
        await kept.close()

    asyncio.run(fill())
    return url


def test_the_journal_is_printed_as_its_digests_were_taken(tmp_path: Path) -> None:
    """Anybody can walk the chain by a program of his own."""
    url = filled(tmp_path)
    lines = run(tmp_path, "journal", DATABASE_URL=url).stdout.encode().splitlines()
    verified = run(tmp_path, "verify", DATABASE_URL=url)
    head = "sha256:" + sha256(lines[-1]).hexdigest()

    assert 2 == len(lines)
    assert f'"previous":"sha256:{sha256(lines[0]).hexdigest()}"'.encode() in lines[1]
    assert (0, f"All 2 entries are in order, and the tables match. The last one is {head}\n") == (
        verified.returncode,
        verified.stdout,
    )
    assert 0 == run(tmp_path, "verify", "--head", head, DATABASE_URL=url).returncode


def test_verify_fails_with_the_entry_that_does_not_fit(tmp_path: Path) -> None:
    """A script that runs it each night stops at a journal that was tampered with."""
    url = filled(tmp_path)
    with closing(sqlite3.connect(tmp_path / "grades.db")) as console:
        console.execute("DROP TRIGGER journal_keep_update")
        console.execute("UPDATE journal SET entry = replace(entry, 'anna', 'otto') WHERE number = 1")
        console.commit()
    done = run(tmp_path, "verify", DATABASE_URL=url)

    assert (1, "") == (done.returncode, done.stdout)
    assert "Error: Entry 1 was altered: its content does not have the digest stored with it.\n" == done.stderr


def test_verify_names_the_row_of_a_lot_that_was_altered(tmp_path: Path) -> None:
    """A lot that has failed was made to pass by whoever may write to the table: table, row, column, and what it should be."""
    url = f"sqlite:///{tmp_path}/grades.db"

    async def fill() -> None:
        await migrate_database(url)
        async with open_database(url) as kept:
            ledger = DatabaseLedger(kept)
            grade_cache = await opened_lot(DatabaseCatalogue(kept), ledger)
            await record_batch(ledger, grade_cache, LOT, batch("B1", 1100), BY)
            await close_lot(ledger, grade_cache, LOT, Closing(), BY)
            await ledger.close()

    asyncio.run(fill())
    with closing(sqlite3.connect(tmp_path / "grades.db")) as console:
        with pytest.raises(sqlite3.IntegrityError, match="what is kept of a lot only goes on"):
            console.execute("UPDATE lots SET outcome = 'pass'")
        console.execute("UPDATE lots SET outcome = 'pass', changes = changes + 1")
        console.commit()
    done = run(tmp_path, "verify", DATABASE_URL=url)

    assert 1 == done.returncode
    assert (
        f"Error: The lot {LOT} does not match entry 5: in table `lots` `changes` is `4` and should be `3`; "
        "`outcome` is `pass` and should be `fail`.\n"
    ) == done.stderr


def test_verify_says_where_there_is_no_journal(tmp_path: Path) -> None:
    """A new file has no tables yet, and that is a sentence."""
    done = run(tmp_path, "verify")

    assert 1 == done.returncode
    assert "Traceback" not in done.stderr


def test_verify_lists_lots_that_were_closed_too_early(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The inspector learns which lots an earlier release would not let him finish, and how to finish them."""
    url = f"sqlite:///{tmp_path}/grades.db"
    guarded = {"rule": "guarded_acceptance", "uncertainty": {"expanded": 20, "coverage_factor": 2}}
    document = grade({**each(lower=100), "decision": guarded}, of=[{**FORCE, "sample": fixed(3)}])

    async def fill() -> None:
        await migrate_database(url)
        async with open_database(url) as kept:
            catalogue, ledger = DatabaseCatalogue(kept), DatabaseLedger(kept)
            grade_cache = GradeCache(catalogue)
            await release_as(catalogue, grade_cache, GRADE, msgspec.convert(document, Specification))
            await open_lot(ledger, grade_cache, LOT, Opening(grade=GRADE), BY)
            await record_batch(ledger, grade_cache, LOT, batch("B1", 110, 200), BY)
            await close_lot(ledger, grade_cache, LOT, Closing(), BY)
            await ledger.close()

    with monkeypatch.context() as older:
        older.setattr(LimitedRule, "missing", lambda _rule, _lot: ())
        asyncio.run(fill())
    done = run(tmp_path, "verify", DATABASE_URL=url)

    assert 0 == done.returncode
    assert (
        f"Lot {LOT} was closed too early: its sample lacks 1 reading of breaking force on 1 package. "
        f"Send what is missing with `POST /v1/lots/{LOT}/corrections`.\n"
    ) == done.stdout.partition("\n")[2]
