"""How `verify` goes through what is kept: one lot at a time, however many there are, and whatever stands in their place."""

import asyncio
import tracemalloc

import pytest
from sqlalchemy import text

from service.engine.ledger import Opening
from service.storage.catalogue import DatabaseCatalogue
from service.storage.database import Database
from service.storage.lots import DatabaseLedger
from service.storage.verifying import chain, verify, verify_in
from service.usecases.grades import GradeCache
from service.usecases.lots.opening import open_lot
from service.usecases.lots.readings import record_batch
from tests.storage.test_journal import without_triggers
from tests.support.ledgers import BY, GRADE, LOT, batch, opened

MANY, AT_ONCE = 400, 200


async def open_many(ledger: DatabaseLedger, grade_cache: GradeCache, first: int, last: int) -> None:
    """Lots of these numbers."""
    for start in range(first, last, AT_ONCE):
        lots = [f"L{number:05d}" for number in range(start, start + AT_ONCE)]
        await asyncio.gather(*(open_lot(ledger, grade_cache, lot, Opening(grade=GRADE), BY) for lot in lots))


async def taken(store: Database) -> int:
    """The most bytes that verifying takes."""
    tracemalloc.start()
    assert (await verify(store)).mismatch is None
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    return most


async def test_verify_takes_no_more_memory_for_more_lots(
    catalogue: DatabaseCatalogue, store: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A mill verifies each night, after ten years too; what is read in one part is made small beside these lots."""
    monkeypatch.setattr(chain, "BATCH_SIZE", 100)
    ledger = DatabaseLedger(store)
    grade_cache = await opened(catalogue, ledger)
    await open_many(ledger, grade_cache, 0, MANY)
    await taken(store)
    before = await taken(store)
    await open_many(ledger, grade_cache, MANY, 3 * MANY)

    assert await taken(store) < 1.2 * before


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        ("UPDATE lot_changes SET at = 9223372036854775807 WHERE number = 2", "in table `lot_changes` `at` is"),
        ("UPDATE lots SET opened_at = 9223372036854775807", "in table `lots` `opened_at` is"),
        ("UPDATE lot_changes SET document = 'x' WHERE number = 1", "in table `lot_changes` `document` is"),
        ("UPDATE lot_changes SET kind = 'tally' WHERE number = 2", "`kind` is `tally` and should be `batch`"),
        ("UPDATE lot_changes SET key = 'B-2' WHERE number = 2", "`key` is `B-2` and should be `B`"),
        ("DELETE FROM lots", f"The lot {LOT}, which entry 4 records, is missing."),
        ("DELETE FROM lot_changes", f"The change 1 of lot {LOT}, which entry 3 records, is missing."),
        (
            "INSERT INTO lots VALUES ('L9', 'TB-130', 1, 'open', 0, '{}', NULL, 1, NULL, NULL, NULL)",
            "No entry of the journal records the lot L9.",
        ),
        (
            "INSERT INTO lot_attributes VALUES ('0412-07', 'bale', '7')",
            "No entry of the journal records the attribute bale `7` of lot 0412-07.",
        ),
        ("DELETE FROM schema_promise", "In table `schema_promise` `oldest` is `None` and should be `0007`"),
        ("UPDATE schema_promise SET oldest = '0001'", "In table `schema_promise` `oldest` is `0001` and should be `0007`"),
        ("UPDATE releases SET version = 7", "`version` is `7` and should be `1`"),
    ],
)
async def test_whatever_stands_there_is_told_in_a_sentence(
    catalogue: DatabaseCatalogue, store: Database, statement: str, said: str
) -> None:
    """Moments that no calendar has, documents that are none, rows gone: no traceback at a console at night."""
    ledger = DatabaseLedger(store)
    grade_cache = await opened(catalogue, ledger)
    await record_batch(ledger, grade_cache, LOT, batch("B", 1410), BY)
    await without_triggers(store)
    first = "PRAGMA defer_foreign_keys = ON" if store.is_embedded else "SET LOCAL session_replication_role = replica"
    async with store.engine.connect() as connection:
        await connection.execute(text(first))
        await connection.execute(text(statement))
        mismatch = (await verify_in(connection, None)).mismatch
        await connection.rollback()

    assert mismatch
    assert said in mismatch.text
