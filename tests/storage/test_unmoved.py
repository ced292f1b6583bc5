"""Groups that one statement keeps where nobody else has written meanwhile: kept once, in order, whatever comes in between."""

import asyncio
from collections.abc import AsyncIterator, Awaitable, Callable
from typing import Any, NamedTuple

import asyncpg  # type: ignore[import-untyped]  # it comes without types
import msgspec
import pytest
import pytest_asyncio

from service.engine.ledger import AttributesAdded
from service.engine.ledger.documents import Attribute
from service.storage import Database, DatabaseCatalogue, DatabaseLedger, database
from service.storage.instruments import DatabaseInstruments
from service.storage.journal import DatabaseJournal
from service.storage.ledger import SECONDS_OF_LOCKS
from service.storage.lot_groups import locks_of
from service.storage.plain import simple
from service.storage.stepping import Steps
from service.storage.verifying import verify
from service.usecases.ledger.opening import add_attributes
from service.usecases.ledger.readings import record_batch, strike
from service.usecases.shelf import Shelf
from tests.storage.test_instruments import IN_DATE, OVERDUE
from tests.support.ledgers import BY, LOT, batch, opened
from tests.support.ledgers import strike as struck

pytestmark = pytest.mark.parametrize("database_url", ["postgresql"], indirect=True)
OTHER_LOT, TESTER = "0412-08", "TT-2"
Between = Callable[[], Awaitable[object]]


class Mill(NamedTuple):
    """A lot at one replica, and another replica on the same database."""

    ledger: DatabaseLedger
    other: DatabaseLedger
    shelf: Shelf
    instruments: DatabaseInstruments
    """At the other one."""
    now: list[float]
    """What the clock of the first one shows."""


@pytest_asyncio.fixture
async def mill(catalogue: DatabaseCatalogue, store: Database, database_url: str) -> AsyncIterator[Mill]:
    """Two lots, opened at the first one."""
    now = [1000.0]
    ledger = DatabaseLedger(store, clock=lambda: now[0])
    shelf = await opened(catalogue, ledger)
    await opened(catalogue, ledger, OTHER_LOT)
    elsewhere = database(database_url)
    yield Mill(ledger, DatabaseLedger(elsewhere), shelf, DatabaseInstruments(elsewhere), now)
    assert (await verify(store)).misfit is None
    await elsewhere.close()


@pytest.fixture
def locked(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The transactions with locks that begin from now on."""
    begun: list[str] = []

    def noted(connection: Any, text: str) -> str:
        begun.extend([text] if text.startswith("BEGIN") else [])
        return simple(connection, text)

    monkeypatch.setattr("service.storage.stepping.simple", noted)
    return begun


def between(monkeypatch: pytest.MonkeyPatch, happens: Between) -> None:
    """Let something happen once when the next group is decided and not kept yet."""
    take_last, left = Steps.take_last, [happens]

    async def taken(self: Steps, *args: Any) -> Any:
        if left:
            await left.pop()()
        return await take_last(self, *args)

    monkeypatch.setattr(Steps, "take_last", taken)


async def record(mill: Mill, key: str, *values: float, lot: str = LOT, **members: Any) -> bool:
    """Whether a batch is new at the first replica."""
    return (await record_batch(mill.ledger, mill.shelf, lot, batch(key, *values, **members), BY)).is_new


async def at_the_other(mill: Mill, key: str, *values: float, lot: str = LOT) -> None:
    """A batch that the other replica takes."""
    await record_batch(mill.other, mill.shelf, lot, batch(key, *values), BY)


async def told(store: Database) -> list[tuple[str, str]]:
    """The lot and the id of each batch, in the journal's order."""
    entries = [msgspec.json.decode(entry) for entry, _ in await DatabaseJournal(store).entries(0, 100)]
    return [(each["lot"], each["id"]) for each in entries if each["what"] == "lot-batch"]


async def test_readings_of_many_lots_go_in_without_locks(mill: Mill, store: Database, locked: list[str]) -> None:
    """The usual group: some stations, each with its lot, one of them twice."""
    news = await asyncio.gather(
        record(mill, "B", 1410), record(mill, "B", 1410, lot=OTHER_LOT), record(mill, "C", 1420), record(mill, "B", 1410)
    )

    assert (True, True, True, False) == tuple(news)
    assert [] == locked
    assert [(LOT, "B"), (LOT, "C"), (OTHER_LOT, "B")] == await told(store)
    assert {LOT: 3, OTHER_LOT: 2} == {lot: (await mill.other.row(lot)).changes for lot in (LOT, OTHER_LOT)}
    assert {"breaking_force": (2, 0)} == (await mill.other.folded(LOT)).readings


async def test_strikes_go_in_without_locks(mill: Mill, locked: list[str]) -> None:
    """They are changes like any other, and found behind what they strike."""
    await record(mill, "B", 1410, 1420)
    await strike(mill.ledger, mill.shelf, LOT, struck("S", "B", "/series/0/values/1"), BY)

    assert [] == locked
    assert {"breaking_force": (2, 1)} == (await mill.other.folded(LOT)).readings


async def test_what_is_more_than_changes_is_kept_under_locks(mill: Mill, locked: list[str]) -> None:
    """An attribute has a row of its own; so has a verdict, and a lot that is opened."""
    await add_attributes(mill.ledger, LOT, AttributesAdded(id="A", attributes=[Attribute("bale", "7")]), BY)
    kept_under_locks = len(locked)
    await record(mill, "B", 1410)

    assert (1, 1) == (kept_under_locks, len(locked))
    assert [("bale", "7")] == await mill.other.attributes(LOT)


async def test_what_another_replica_keeps_in_between_comes_first(
    mill: Mill, store: Database, locked: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The group was decided without it, so that it is decided anew."""
    between(monkeypatch, lambda: at_the_other(mill, "C", 1420))

    assert await record(mill, "B", 1410)
    assert 1 == len(locked)
    assert [(LOT, "C"), (LOT, "B")] == await told(store)
    assert {"breaking_force": (2, 0)} == (await mill.ledger.folded(LOT)).readings


async def test_the_same_batch_at_another_replica_in_between_counts_once(
    mill: Mill, store: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The line dropped, and the station's second try went to the other replica, which was quicker."""
    between(monkeypatch, lambda: at_the_other(mill, "B", 1410))

    assert not await record(mill, "B", 1410)
    assert [(LOT, "B")] == await told(store)


async def test_a_calibration_in_between_is_in_the_marks(mill: Mill, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is known of an instrument goes by the moment at which its readings are kept, not by that of a look before."""
    await mill.instruments.put(TESTER, IN_DATE, BY)
    between(monkeypatch, lambda: mill.instruments.put(TESTER, OVERDUE, BY))
    await record(mill, "B", 1410, instrument=TESTER)

    assert "overdue" == (await mill.ledger.folded(LOT)).marks["B"].calibration


async def test_whoever_holds_a_lot_is_waited_for(mill: Mill, database_url: str, locked: list[str]) -> None:
    """He decides by what he has read of it, and moves the journal's head only at his end."""
    holder = await asyncpg.connect(database_url.replace("postgresql+asyncpg", "postgresql"))
    transaction = holder.transaction()
    await transaction.start()
    await holder.execute("SELECT pg_advisory_xact_lock($1)", *locks_of([LOT]))
    await record(mill, "B", 1410, lot=OTHER_LOT)
    waiting = asyncio.create_task(record(mill, "B", 1410))
    while not await holder.fetchval("SELECT count(*) FROM pg_locks WHERE NOT granted"):
        assert not waiting.done()
    await transaction.commit()

    assert await waiting
    assert 1 == len(locked)
    await holder.close()


async def test_for_a_while_after_others_wrote_locks_are_taken_at_once(
    mill: Mill, locked: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two replicas under load would decide each group twice."""
    between(monkeypatch, lambda: at_the_other(mill, "C", 1420, lot=OTHER_LOT))
    found = []
    for key, seconds in (("B", 0.0), ("D", 0.0), ("E", SECONDS_OF_LOCKS)):
        mill.now[0] += seconds
        await record(mill, key, 1410)
        found.append(len(locked))

    assert [1, 2, 2] == found


async def test_a_group_in_which_all_were_repeated_keeps_nothing(mill: Mill, store: Database, locked: list[str]) -> None:
    """A station that resends what is kept is answered by a look."""
    await record(mill, "B", 1410)
    before = await told(store)

    assert not await record(mill, "B", 1410)
    assert [] == locked
    assert before == await told(store)
