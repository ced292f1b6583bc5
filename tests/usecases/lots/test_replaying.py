"""Replaying verdicts: by what is kept there, however much has come since."""

import pytest
from sqlalchemy import text

from service.ports.ledger import LotUnknownError, VerdictUnknownError
from service.storage.catalogue import DatabaseCatalogue
from service.storage.database import Database
from service.storage.lots import DatabaseLedger
from service.usecases.grades import GradeCache
from service.usecases.grades import catalogue as use
from service.usecases.lots import LONG, LONG_BYTES, replay_verdict
from service.usecases.lots.correcting import correct_lot
from service.usecases.lots.readings import record_batch
from tests.storage.test_journal import without_triggers
from tests.support.grade_caches import release
from tests.support.ledgers import BY, GRADE, LOT, batch, opened
from tests.usecases.lots.test_closing import closed
from tests.usecases.lots.test_correcting import FIRST, correction


@pytest.fixture
def ledger(store: Database) -> DatabaseLedger:
    """An empty ledger in each database."""
    return DatabaseLedger(store)


async def judged(catalogue: DatabaseCatalogue, ledger: DatabaseLedger) -> GradeCache:
    """A lot that has failed, and passed when it was corrected."""
    grade_cache = await opened(catalogue, ledger)
    await record_batch(ledger, grade_cache, LOT, batch("B", 141, 1420), BY)
    await closed(ledger, grade_cache)
    await correct_lot(ledger, grade_cache, LOT, correction("C", ("B", FIRST), values=[1410]), BY)
    return grade_cache


async def test_every_verdict_of_a_lot_agrees_for_ever(catalogue: DatabaseCatalogue, ledger: DatabaseLedger) -> None:
    """Each by its own evidence and the revision of its day, which has been withdrawn since."""
    grade_cache = await judged(catalogue, ledger)
    await release(catalogue, grade_cache, GRADE, 1500)
    await use.withdraw(catalogue, grade_cache, GRADE, 1, "The buyer has left.")
    found = [await replay_verdict(ledger, GradeCache(catalogue), LOT, number) for number in (1, 2)]

    assert [True, True] == [each.replay.agrees for each in found]
    assert ["fail", "pass"] == [each.row.outcome for each in found]
    assert [each.row.verdict for each in found] == [each.replay.verdict for each in found]


@pytest.mark.parametrize(
    ("column", "value", "at"),
    [
        ("verdict", "replace(verdict, '\"fail\"', '\"pass\"')", ["/findings/0/outcome", "/outcome"]),
        ("revision", "2", ["/revision", "/specification"]),
        ("evidence", "replace(evidence, '1420.0', '1420.5')", ["/evidence", "/findings/0/measured/value"]),
    ],
)
async def test_what_was_altered_in_the_database_is_named(
    catalogue: DatabaseCatalogue, store: Database, ledger: DatabaseLedger, column: str, value: str, at: list[str]
) -> None:
    """By whoever owns it, and can drop what keeps others from doing so; the verdict beside it still agrees."""
    grade_cache = await judged(catalogue, ledger)
    await release(catalogue, grade_cache, GRADE, 1300)
    await without_triggers(store)
    async with store.writing() as connection:
        statement = f"UPDATE verdicts SET {column} = {value} WHERE number = 1"  # noqa: S608  our own
        await connection.execute(text(statement))
    first, second = [(await replay_verdict(ledger, grade_cache, LOT, number)).replay for number in (1, 2)]

    assert (False, True) == (first.agrees, second.agrees)
    assert set(at) <= {each.at for each in first.differences}


async def test_a_long_lot_agrees_too(catalogue: DatabaseCatalogue, ledger: DatabaseLedger) -> None:
    """It is judged apart, while checks are answered."""
    grade_cache = await opened(catalogue, ledger)
    await record_batch(ledger, grade_cache, LOT, batch("B", *[1410.5] * LONG), BY)
    kept = (await closed(ledger, grade_cache)).kept.row

    assert len(kept.evidence) > LONG_BYTES
    assert (await replay_verdict(ledger, grade_cache, LOT, 1)).replay.agrees


async def test_what_is_not_there_can_not_be_replayed(catalogue: DatabaseCatalogue, ledger: DatabaseLedger) -> None:
    """Neither of an open lot, nor of none."""
    grade_cache = await opened(catalogue, ledger)
    with pytest.raises(VerdictUnknownError):
        await replay_verdict(ledger, grade_cache, LOT, 1)
    with pytest.raises(LotUnknownError):
        await replay_verdict(ledger, grade_cache, "nowhere", 1)
