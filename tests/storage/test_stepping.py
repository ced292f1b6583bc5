"""Transactions in few steps on either database: whole or not at all, and well again after whatever went wrong."""

import asyncio
import contextlib

import asyncpg  # type: ignore[import-untyped]  # it comes without types
import pytest
from sqlalchemy import Connection, insert, text

from service.ports import CatalogueAwayError
from service.storage import Database, DatabaseCatalogue, DatabaseLedger
from service.storage.plain import Plain, insertion, keep, rows, simple, unnested
from service.storage.tables import grades
from service.usecases.ledger.readings import record_batch
from tests.support.ledgers import BY, LOT, batch, opened

CODES = Plain("SELECT code FROM grades ORDER BY code", "SELECT code FROM grades ORDER BY code")
KEEP = Plain(insertion(grades), f"INSERT INTO grades {unnested(grades)}")
CUTS = 12
CUT = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid()"
on_a_server = pytest.mark.parametrize("database_url", ["postgresql"], indirect=True)
AT = 1_700_000_000_000_000


def codes(connection: Connection) -> list[str]:
    """The grades that there are."""
    return [row[0] for row in rows(connection, CODES)]


def kept(connection: Connection, *names: str) -> None:
    """Grades of these codes."""
    keep(connection, KEEP, [(name, AT) for name in names])


def kept_and_failed(connection: Connection, name: str) -> None:
    """A grade, and then something goes wrong that no database knows of."""
    kept(connection, name)
    raise ZeroDivisionError


async def found(store: Database) -> list[str]:
    """The grades that there are for others."""
    async with store.reading() as connection:
        return [row.code for row in await connection.execute(text(CODES.sqlite))]


async def test_the_last_step_makes_all_durable(store: Database) -> None:
    """What is given to the driver and what goes by the library are one transaction."""
    async with store.stepping([1, 2]) as steps:
        await steps.take(kept, "A", "B")
        await steps.take(lambda connection: connection.execute(insert(grades), {"code": "C", "created_at": AT}))
        assert ["A", "B", "C"] == await steps.take(codes)
        assert [] == await found(store)
        await steps.take_last(kept, "D")

    assert ["A", "B", "C", "D"] == await found(store)


async def test_without_a_last_step_nothing_is_kept(store: Database) -> None:
    """A group of which all were refused writes nothing, and holds no lock afterwards."""
    for _ in range(2):
        async with store.stepping([1]) as steps:
            await steps.take(kept, "A")

    assert [] == await found(store)


async def test_a_step_that_fails_leaves_nothing_and_the_next_transaction_is_well(store: Database) -> None:
    """One broken group is no broken replica."""
    with pytest.raises(ZeroDivisionError):
        async with store.stepping([1]) as steps:
            await steps.take_last(kept_and_failed, "A")
    async with store.stepping([1]) as steps:
        await steps.take_last(kept, "B")

    assert ["B"] == await found(store)


async def test_what_the_driver_finds_wrong_is_one_error_without_values(store: Database) -> None:
    """A log is no place for what the statement was given."""
    with pytest.raises(CatalogueAwayError) as refused:
        async with store.stepping([1]) as steps:
            await steps.take_last(kept, "A", "A")

    assert "INSERT INTO grades" in str(refused.value.__cause__)
    assert str(AT) not in str(refused.value.__cause__)
    assert [] == await found(store)


@on_a_server
async def test_a_failed_transaction_is_not_called_committed(store: Database) -> None:
    """A server answers COMMIT well where it has rolled back; who took that for done would lose rows."""

    def swallowing(connection: Connection) -> None:
        kept(connection, "A")
        with contextlib.suppress(Exception):
            simple(connection, "SELECT 1 / 0")

    with pytest.raises(CatalogueAwayError):
        async with store.stepping([1]) as steps:
            await steps.take_last(swallowing)

    assert [] == await found(store)


@on_a_server
async def test_a_connection_that_was_cut_is_made_anew(catalogue: DatabaseCatalogue, store: Database, database_url: str) -> None:
    """The server was started anew between two readings, and no station notices."""
    ledger = DatabaseLedger(store)
    shelf = await opened(catalogue, ledger)
    other = await asyncpg.connect(database_url.replace("postgresql+asyncpg", "postgresql"))
    # What is known of the end when the next one begins differs from one time to the next.
    for number in range(CUTS):
        await record_batch(ledger, shelf, LOT, batch(f"B{number}", 1410), BY)
        await other.execute(CUT)
        await asyncio.sleep(number % 3 / 1000)
    await other.close()
    await record_batch(ledger, shelf, LOT, batch("B", 1420), BY)

    assert {"breaking_force": (CUTS + 1, 0)} == (await ledger.folded(LOT)).readings


@on_a_server
async def test_a_connection_that_is_gone_without_a_word_is_made_anew(store: Database, monkeypatch: pytest.MonkeyPatch) -> None:
    """A network forgets one that was idle, and says so only to who writes on it."""
    execute = asyncpg.Connection.execute

    async def forgotten(self: asyncpg.Connection, query: str, *args: object) -> str:
        if self is raw:
            raise OSError
        done: str = await execute(self, query, *args)
        return done

    async with store.stepping([1]) as steps:
        raw = await steps.take(lambda connection: connection.connection.driver_connection)
        await steps.take_last(kept, "A")
    monkeypatch.setattr(asyncpg.Connection, "execute", forgotten)
    async with store.stepping([1]) as steps:
        await steps.take_last(kept, "B")

    assert ["A", "B"] == await found(store)
