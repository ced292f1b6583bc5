"""Groups of the ledger's writes on either database: few statements, one transaction, and well after whatever went wrong."""

import asyncio
import itertools
import json
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator
from contextlib import contextmanager
from typing import Any

import asyncpg  # type: ignore[import-untyped]  # it comes without types
import pytest
import pytest_asyncio
from sqlalchemy import event

from service.engine.ledger import ATTRIBUTES, BATCH, OPENED
from service.ports.catalogue import CatalogueAwayError
from service.ports.ledger import Decide, Decided, LotsQuery, NewChange
from service.storage import database
from service.storage.catalogue import DatabaseCatalogue
from service.storage.database import Database
from service.storage.journal import DatabaseJournal
from service.storage.lots import DatabaseLedger
from service.storage.lots.groups import locks_of
from service.storage.verifying import verify
from service.usecases.lots.readings import record_batch
from tests.support.ledgers import BY, GRADE, LOT, batch, opened, with_verdict

OTHER_LOT = "0412-08"
GROUPS = (1, 2, 16, 50)
CUT = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid()"
OTHERS = "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid()"
WAITING = "SELECT count(*) FROM pg_locks WHERE NOT granted"
CUTS = 3
on_a_server = pytest.mark.parametrize("database_url", ["postgresql"], indirect=True)
numbers = itertools.count()


@pytest.fixture
def ledger(store: Database) -> DatabaseLedger:
    """An empty ledger in each database."""
    return DatabaseLedger(store)


@pytest_asyncio.fixture
async def beside(database_url: str) -> AsyncIterator[asyncpg.Connection]:
    """A connection of somebody else to the same PostgreSQL."""
    connection = await asyncpg.connect(database_url.replace("postgresql+asyncpg", "postgresql"))
    yield connection
    await connection.close()


@contextmanager
def counted(store: Database) -> Iterator[list[str]]:
    """The statements that are run meanwhile; one that is run for many rows at once is one."""
    found: list[str] = []

    def note(_connection: Any, _cursor: Any, statement: str, *_others: Any) -> None:
        found.append(statement)

    event.listen(store.engine.sync_engine, "before_cursor_execute", note)
    yield found
    event.remove(store.engine.sync_engine, "before_cursor_execute", note)


def opening(lot: str, revision: int = 1) -> Decide:
    """A lot is opened."""
    document = b'{"grade": "%b", "revision": %d}' % (GRADE.encode(), revision)
    return lambda _so_far: Decided(changes=[NewChange(by=BY, kind=OPENED, key="", digest="", document=document)])


def reading(lot: str) -> Decide:
    """A batch more."""
    key = f"B{next(numbers)}"
    document = b'{"batch": "%b", "series": []}' % key.encode()
    change = NewChange(by=BY, kind=BATCH, key=key, digest="", document=document)
    return lambda _so_far: Decided(changes=[change])


def attribute(lot: str) -> Decide:
    """An attribute that is there perhaps, and one that is not."""
    key = f"A{next(numbers)}"
    bales = [{"name": "bale", "value": value} for value in ("7", key)]
    document = json.dumps({"id": key, "attributes": bales}).encode()
    change = NewChange(by=BY, kind=ATTRIBUTES, key=key, digest="", document=document)
    return lambda _so_far: Decided(changes=[change])


def closing(_lot: str) -> Decide:
    """A verdict, and the lot with it."""
    return with_verdict(1, evidence=b"{}", verdict=b"{}")


def refusing(_lot: str) -> Decide:
    """Nothing is done."""
    return lambda _so_far: Decided()


@pytest.mark.parametrize("decision", [reading, attribute, closing, refusing])
async def test_a_group_takes_as_many_statements_as_a_write_alone(
    catalogue: DatabaseCatalogue, store: Database, ledger: DatabaseLedger, decision: Callable[[str], Decide]
) -> None:
    """Sixteen stations cost the database one transaction, and not sixteen in one."""
    await opened(catalogue, ledger)
    found = {}
    for many in GROUPS:
        lots = [f"L{many}-{number}" for number in range(many)]
        with counted(store) as to_open:
            await asyncio.gather(*(ledger.record(lot, opening(lot)) for lot in lots))
        with counted(store) as to_keep:
            await asyncio.gather(*(ledger.record(lot, decision(lot)) for lot in lots))
        found[many] = (len(to_open), len(to_keep))

    assert dict.fromkeys(GROUPS, found[1]) == found
    assert (await verify(store)).mismatch is None


async def test_a_replica_that_has_just_started_catches_up_by_one_statement(
    catalogue: DatabaseCatalogue, store: Database, ledger: DatabaseLedger
) -> None:
    """However many lots the first group has of which it remembers nothing."""
    await opened(catalogue, ledger)
    found, folded = set(), set()
    for many in GROUPS:
        lots = [f"L{many}-{number}" for number in range(many)]
        await asyncio.gather(*(ledger.record(lot, opening(lot)) for lot in lots))
        await asyncio.gather(*(ledger.record(lot, reading(lot)) for lot in lots))
        started = DatabaseLedger(store)
        with counted(store) as statements:
            recorded = await asyncio.gather(*(started.record(lot, reading(lot)) for lot in lots))
        found.add(len(statements))
        folded |= {each.folded.changes for each in recorded}

    assert 1 == len(found)
    assert {3} == folded


async def test_a_group_in_which_all_are_repeated_keeps_nothing(
    catalogue: DatabaseCatalogue, store: Database, ledger: DatabaseLedger
) -> None:
    """A station that resends what is kept is answered by a look."""
    grade_cache = await opened(catalogue, ledger)
    await record_batch(ledger, grade_cache, LOT, batch("B", 1410), BY)
    before = await DatabaseJournal(store).entries(0, 100)
    with counted(store) as statements:
        again = await asyncio.gather(*(record_batch(ledger, grade_cache, LOT, batch("B", 1410), BY) for _ in range(3)))

    assert {False} == {each.is_new for each in again}
    assert [] == [each for each in statements if each.startswith(("INSERT", "UPDATE"))]
    assert before == await DatabaseJournal(store).entries(0, 100)


async def test_an_attribute_that_is_there_is_kept_once(catalogue: DatabaseCatalogue, ledger: DatabaseLedger) -> None:
    """Two ERP jobs name the same bale."""
    await opened(catalogue, ledger)
    await asyncio.gather(ledger.record(LOT, attribute(LOT)), ledger.record(LOT, attribute(LOT)))
    await ledger.record(LOT, attribute(LOT))

    assert 1 == (await ledger.attributes(LOT)).count(("bale", "7"))
    assert 4 == len(await ledger.attributes(LOT))


async def test_a_group_that_the_database_refuses_is_kept_in_no_part_and_the_next_is_well(
    catalogue: DatabaseCatalogue, store: Database, ledger: DatabaseLedger
) -> None:
    """All of it are told to come again, none is told that it is kept; and a log is no place for what was sent."""
    grade_cache = await opened(catalogue, ledger)
    wanted: list[Awaitable[object]] = [
        ledger.record(LOT, reading(LOT)),
        ledger.record(OTHER_LOT, opening(OTHER_LOT, revision=9)),
    ]
    refused = await asyncio.gather(*wanted, return_exceptions=True)
    taken = await record_batch(ledger, grade_cache, LOT, batch("B", 1410), BY)

    assert [CatalogueAwayError] * 2 == [type(each) for each in refused]
    cause = str(getattr(refused[0], "__cause__", None))
    assert "INSERT INTO lots" in cause
    assert OTHER_LOT not in cause
    assert (2, {"breaking_force": (1, 0)}) == (taken.recorded.number, (await ledger.folded(LOT)).readings)
    assert [LOT] == [each.lot for each in await ledger.lots(LotsQuery())]
    assert (await verify(store)).mismatch is None


async def test_a_group_waits_for_another_writer_no_longer_than_told(
    catalogue: DatabaseCatalogue, store: Database, database_url: str
) -> None:
    """A station is told to come again, and its lot is well when the other one has ended."""
    await opened(catalogue, DatabaseLedger(store))
    hurried = database(database_url, timeout_s=0.2)
    ledger = DatabaseLedger(hurried)
    async with store.writing() as connection:
        if not store.is_embedded:
            await connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({locks_of([LOT])[0]})")
        with pytest.raises(CatalogueAwayError):
            await ledger.record(LOT, reading(LOT))
    kept = await ledger.record(LOT, reading(LOT))
    await hurried.close()

    assert 2 == kept.number


async def test_readers_and_groups_share_one_connection(
    catalogue: DatabaseCatalogue, store: Database, database_url: str
) -> None:
    """A pool of one is slow, and does not lock itself out."""
    await opened(catalogue, DatabaseLedger(store))
    narrow = database(database_url, pool_size=1)
    ledger = DatabaseLedger(narrow)
    await asyncio.gather(*(each for _ in range(8) for each in (ledger.record(LOT, reading(LOT)), ledger.folded(LOT))))
    folded = await ledger.folded(LOT)
    await narrow.close()

    assert 9 == folded.changes


@on_a_server
async def test_whoever_holds_a_lot_is_waited_for_and_then_seen(
    catalogue: DatabaseCatalogue, store: Database, ledger: DatabaseLedger, database_url: str, beside: asyncpg.Connection
) -> None:
    """Two replicas have one batch at the same moment; the second looks only when the first is done, and counts it once."""
    grade_cache = await opened(catalogue, ledger)
    await ledger.record(OTHER_LOT, opening(OTHER_LOT))
    elsewhere = database(database_url)
    transaction = beside.transaction()
    await transaction.start()
    await beside.execute("SELECT pg_advisory_xact_lock($1)", *locks_of([LOT]))
    await record_batch(ledger, grade_cache, OTHER_LOT, batch("B", 1410), BY)
    replicas = (ledger, DatabaseLedger(elsewhere))
    both = [asyncio.create_task(record_batch(each, grade_cache, LOT, batch("B", 1410), BY)) for each in replicas]
    while await beside.fetchval(WAITING) < len(both):
        assert not any(each.done() for each in both)
    await transaction.commit()
    taken = await asyncio.gather(*both)
    await elsewhere.close()

    assert [False, True] == sorted(each.is_new for each in taken)
    assert {"breaking_force": (1, 0)} == (await ledger.folded(LOT)).readings
    assert (await verify(store)).mismatch is None


@on_a_server
async def test_connections_that_were_cut_while_idle_are_made_anew(
    catalogue: DatabaseCatalogue, ledger: DatabaseLedger, beside: asyncpg.Connection
) -> None:
    """The server was started anew between two readings, and no station notices."""
    grade_cache = await opened(catalogue, ledger)
    for number in range(CUTS):
        await record_batch(ledger, grade_cache, LOT, batch(f"B{number}", 1410), BY)
        await beside.execute(CUT)
        while await beside.fetchval(OTHERS):
            pass
    await record_batch(ledger, grade_cache, LOT, batch("B", 1420), BY)

    assert {"breaking_force": (CUTS + 1, 0)} == (await ledger.folded(LOT)).readings


@on_a_server
async def test_groups_of_two_replicas_come_behind_each_other_in_the_journal(
    catalogue: DatabaseCatalogue, store: Database, ledger: DatabaseLedger, database_url: str, beside: asyncpg.Connection
) -> None:
    """They have no lot in common, and one chain; whoever writes to it is waited for."""
    await opened(catalogue, ledger)
    await ledger.record(OTHER_LOT, opening(OTHER_LOT))
    elsewhere = database(database_url)
    transaction = beside.transaction()
    await transaction.start()
    await beside.execute("SELECT number FROM journal_head FOR UPDATE")
    replicas = ((ledger, LOT), (DatabaseLedger(elsewhere), OTHER_LOT))
    both = [asyncio.create_task(each.record(lot, reading(lot))) for each, lot in replicas]
    while await beside.fetchval(WAITING) < len(both):
        assert not any(each.done() for each in both)
    await transaction.commit()
    kept = await asyncio.gather(*both)
    await elsewhere.close()

    assert [2, 2] == [each.number for each in kept]
    assert (await verify(store)).mismatch is None
