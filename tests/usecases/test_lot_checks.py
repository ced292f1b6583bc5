"""What a check of a lot rests on: what its replica knows, how old that may be, and what becomes of it while nobody answers."""

import msgspec
import pytest
from sqlalchemy import text

from service.engine.grade import Specification
from service.engine.ledger import Opening, RevisionMoved
from service.ports.catalogue import CatalogueAwayError
from service.storage.catalogue import DatabaseCatalogue
from service.storage.database import Database
from service.storage.lots import DatabaseLedger
from service.usecases.grades import GradeCache
from service.usecases.grades import catalogue as use
from service.usecases.lots import CheckOfLot, of_reading_in_lot
from service.usecases.lots.checking import FRESH_S
from service.usecases.lots.opening import move_revision, open_lot
from service.usecases.lots.readings import record_batch
from tests.support.grade_caches import Ticks
from tests.support.grades import FORCE, RUNNAGE, each, grade
from tests.support.ledgers import BY, GRADE, LOT, batch

ONE_MAY = grade({"id": "weak", **each(lower=1120, allowed_outside={"count": 1})})


class Replicas:
    """Two replicas on one database, whose clock goes when it is told to."""

    def __init__(self, catalogue: DatabaseCatalogue, store: Database) -> None:
        """Nothing is known yet."""
        self.clock, self.store, self.catalogue = Ticks(), store, catalogue
        self.one, self.other = (DatabaseLedger(store, clock=self.clock) for _ in range(2))
        self.grade_cache = GradeCache(catalogue, clock=self.clock)

    async def open(self, specification: object = ONE_MAY) -> None:
        """The lot, of a grade of this specification."""
        await self.release(specification)
        await open_lot(self.one, self.grade_cache, LOT, Opening(grade=GRADE), BY)

    async def release(self, specification: object) -> None:
        """A further revision of the grade."""
        document = msgspec.convert(specification, Specification)
        draft, _ = await use.add_draft(self.catalogue, GRADE, document)
        await use.release(self.catalogue, self.grade_cache, GRADE, draft.number, effective_from=None, expected=None)

    async def asked(self, value: float = 1100) -> tuple[str, bool]:
        """(outcome, whether it rests on what was known before) of a reading that the first replica is asked about."""
        check = CheckOfLot(LOT, "breaking_force", "N", value)
        found = await of_reading_in_lot(self.grade_cache, self.one, check)
        return found.answer.outcome.value, found.is_stale

    async def gone(self) -> None:
        """The database answers for lots no more."""
        async with self.store.writing() as connection:
            await connection.execute(text("ALTER TABLE lots RENAME TO gone"))


@pytest.fixture
def replicas(catalogue: DatabaseCatalogue, store: Database) -> Replicas:
    """On each database in turn."""
    return Replicas(catalogue, store)


async def test_a_check_knows_what_was_recorded_half_a_second_ago(replicas: Replicas) -> None:
    """By whichever replica; what its own has recorded it knows at once."""
    await replicas.open()
    assert ("undecided", False) == await replicas.asked()
    await record_batch(replicas.other, replicas.grade_cache, LOT, batch("A", 1119), BY)
    replicas.clock.seconds += FRESH_S + 0.001

    assert ("fail", False) == await replicas.asked()


async def test_within_half_a_second_a_check_asks_no_database(replicas: Replicas) -> None:
    """A tester that sends ten a second waits for memory alone."""
    await replicas.open()
    await record_batch(replicas.one, replicas.grade_cache, LOT, batch("A", 1119), BY)
    await replicas.gone()
    replicas.clock.seconds += FRESH_S

    assert ("fail", False) == await replicas.asked()


async def test_while_the_database_is_away_a_check_goes_by_what_was_known(replicas: Replicas) -> None:
    """The line does not stop for a database that restarts, and the answer says so; after a minute nobody can vouch for it."""
    await replicas.open()
    await record_batch(replicas.one, replicas.grade_cache, LOT, batch("A", 1119), BY)
    await replicas.gone()
    replicas.clock.seconds += 60

    assert ("fail", True) == await replicas.asked()
    replicas.clock.seconds += 0.001
    with pytest.raises(CatalogueAwayError):
        await replicas.asked()


async def test_a_lot_that_nobody_has_asked_for_is_read_once(replicas: Replicas) -> None:
    """A replica that has just started knows it from the first check on."""
    await replicas.open()
    await record_batch(replicas.other, replicas.grade_cache, LOT, batch("A", 1119), BY)
    replicas.one = DatabaseLedger(replicas.store, clock=replicas.clock)
    before = await replicas.asked()
    await replicas.gone()

    assert [("fail", False)] * 2 == [before, await replicas.asked()]


async def test_a_lot_whose_evidence_has_flaws_is_checked_without_counting(replicas: Replicas) -> None:
    """A revision that knows not all of its readings can count none: what is outside is left to the lot, and is never green."""
    await replicas.open(grade({"id": "weak", **each(lower=1120, allowed_outside={"count": 1})}, of=[FORCE, RUNNAGE]))
    await record_batch(replicas.one, replicas.grade_cache, LOT, batch("A", 1119), BY)
    await record_batch(
        replicas.one, replicas.grade_cache, LOT, batch("B", 130, of_series={"characteristic": "runnage", "unit": "m/kg"}), BY
    )
    before = await replicas.asked()
    await replicas.release(ONE_MAY)
    await move_revision(replicas.one, replicas.grade_cache, LOT, RevisionMoved("M", 2, "Agreed with the buyer."), BY)

    assert ("fail", False) == before
    assert [("undecided", False), ("pass", False)] == [await replicas.asked(value) for value in (1100, 1120)]
