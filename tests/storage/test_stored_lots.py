"""What the database itself refuses to do to lots, grades, drafts and the heads of what never goes back."""

import random

import msgspec
import pytest
from sqlalchemy import text

from service.engine.documents import digest_of
from service.engine.ledger import Closing, Opening
from service.ports.catalogue import CatalogueAwayError
from service.storage.catalogue import DatabaseCatalogue
from service.storage.database import Database, migrate_database
from service.storage.lots import DatabaseLedger, DatabaseLines
from service.storage.verifying import verify
from service.usecases.lines import LineHistories
from service.usecases.lots.closing import close_lot
from service.usecases.lots.opening import open_lot
from service.usecases.lots.readings import record_batch
from tests.support.ledgers import BY, GRADE, LOT, batch, opened
from tests.support.stories import Story, released

LOTS_GO_ON, RELEASED = "what is kept of a lot only goes on", "what is released never changes"
REFUSED = [
    ("UPDATE lots SET outcome = 'pass'", LOTS_GO_ON),
    ("UPDATE lots SET state = 'open', outcome = NULL, changes = changes + 1", LOTS_GO_ON),
    ("UPDATE lots SET outcome = NULL, changes = changes + 1", LOTS_GO_ON),
    ("UPDATE lots SET lot = 'L9', changes = changes + 1", LOTS_GO_ON),
    ("UPDATE lots SET grade = 'TB-9', changes = changes + 1", LOTS_GO_ON),
    ("UPDATE lots SET line = 'L-9', changes = changes + 1", LOTS_GO_ON),
    ("UPDATE lots SET opened_at = opened_at + 1, changes = changes + 1", LOTS_GO_ON),
    ("UPDATE lots SET revision = revision + 1, changes = changes + 1 WHERE state <> 'open'", LOTS_GO_ON),
    ("UPDATE lots SET changes = changes - 1", LOTS_GO_ON),
    ("DELETE FROM lots", LOTS_GO_ON),
    ("UPDATE lot_attributes SET value = '8'", LOTS_GO_ON),
    ("DELETE FROM lot_attributes", LOTS_GO_ON),
    ("UPDATE grades SET created_at = 1", "a grade stays"),
    ("DELETE FROM grades", "a grade stays"),
    ("DELETE FROM revisions", RELEASED),
    ("DELETE FROM revisions WHERE number = 2", RELEASED),
    ("UPDATE revisions SET created_at = 1 WHERE number = 2", RELEASED),
    ("UPDATE catalogue_version SET version = version - 1", "the catalogue's version never goes back"),
    ("UPDATE journal_head SET number = number - 1", "the journal never goes back"),
]
ON_SQLITE = [
    ("INSERT OR REPLACE INTO lots SELECT * FROM lots", LOTS_GO_ON),
    ("INSERT OR REPLACE INTO grades SELECT code, 1 FROM grades", "a grade stays"),
]
ON_POSTGRESQL = [
    ("TRUNCATE lots CASCADE", "what is"),
    ("TRUNCATE lot_attributes", LOTS_GO_ON),
    ("TRUNCATE journal_head", "the journal never goes back"),
]


async def filled(catalogue: DatabaseCatalogue, store: Database) -> None:
    """A lot that has failed, with an attribute, and a draft of its grade."""
    ledger = DatabaseLedger(store)
    grade_cache = await opened(catalogue, ledger)
    await record_batch(ledger, grade_cache, LOT, batch("B", 1100), BY)
    opening = msgspec.convert({"grade": GRADE, "line": "L-4", "attributes": [{"name": "bale", "value": "7"}]}, Opening)
    await open_lot(ledger, grade_cache, "0412-08", opening, BY)
    await close_lot(ledger, grade_cache, LOT, Closing(), BY)
    await close_lot(ledger, grade_cache, "0412-08", Closing(), BY)
    await catalogue.add_draft(GRADE, b"{}", digest_of(b"{}"), by="anna")


async def check_refused(store: Database, statement: str, said: str) -> None:
    """A statement that the database does not take, and why."""
    with pytest.raises(CatalogueAwayError) as refused:
        async with store.writing() as connection:
            await connection.execute(text(statement))

    assert said in str(refused.value.__cause__)
    assert (await verify(store)).mismatch is None


async def test_what_no_command_does_is_refused(catalogue: DatabaseCatalogue, store: Database) -> None:
    """Whoever has the service's rights can not make a lot pass, take its verdict away, or let it be another one's."""
    await filled(catalogue, store)
    for statement, said in [*REFUSED, *(ON_SQLITE if store.is_embedded else ON_POSTGRESQL)]:
        await check_refused(store, statement, said)


@pytest.mark.parametrize("seed", range(3))
async def test_what_commands_do_is_taken(catalogue: DatabaseCatalogue, store: Database, seed: int) -> None:
    """Whatever becomes of a lot; the release before does the same to these tables."""
    grade_cache, ledger = await released(catalogue), DatabaseLedger(store)
    for number in range(3):
        await Story(random.Random(seed), grade_cache, [ledger], LineHistories(DatabaseLines(store)), f"L{number}").run()

    assert (await verify(store)).mismatch is None


async def test_the_triggers_go_with_their_version(database_url: str, catalogue: DatabaseCatalogue, store: Database) -> None:
    """Going back leaves nothing behind that the release before does not know, and coming again brings them back."""
    await filled(catalogue, store)
    await migrate_database(database_url, "0007", down=True)
    async with store.writing() as connection:
        await connection.execute(text("UPDATE lots SET closed_at = closed_at"))
        await connection.execute(text("UPDATE lot_attributes SET value = value"))
    await migrate_database(database_url)

    await check_refused(store, *REFUSED[0])
