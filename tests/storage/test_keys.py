"""Keys in each database: kept by their digests alone, revoked once, never changed."""

import hashlib
from datetime import timedelta

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError

from service.engine.documents import FlawedDocumentError
from service.ports.catalogue import KeyUnknownError, Scope
from service.storage.database import Database, metadata
from service.storage.keys import DatabaseKeys
from service.usecases.keys.issuing import add_key, expiry_of, list_keys

READING = frozenset({Scope.READ, Scope.CHECK})


@pytest.fixture
def keys(store: Database) -> DatabaseKeys:
    """No keys yet."""
    return DatabaseKeys(store)


async def test_a_key_is_found_by_its_digest(keys: DatabaseKeys) -> None:
    """What a caller sends is looked up by SHA-256, which is all that is kept."""
    made = await add_key(keys, "station-7", READING, None)

    assert [made.kept] == list(await keys.live())
    assert hashlib.sha256(made.token.encode()).hexdigest() == made.kept.digest
    assert made.token.startswith(f"{made.kept.key}_")


async def test_the_token_stands_nowhere_in_the_database(keys: DatabaseKeys, store: Database) -> None:
    """Who steals a copy of the database has no key."""
    made = await add_key(keys, "station-7", READING, None)
    async with store.reading() as connection:
        rows = [row for table in metadata.sorted_tables for row in await connection.execute(table.select())]

    assert made.token[13:] not in repr(rows)


async def test_a_revoked_key_is_live_no_more_and_stays_in_the_list(keys: DatabaseKeys) -> None:
    """The mill can say later who had a key, until when, and why not any more."""
    made = await add_key(keys, "station-7", READING, None)
    revoked = await keys.revoke(made.kept.key, "kim", "The station was sold.")

    assert [] == list(await keys.live())
    assert [revoked] == (await list_keys(keys)).keys
    assert "The station was sold." == revoked.reason


async def test_revoking_again_changes_nothing(keys: DatabaseKeys) -> None:
    """A client that got no answer may repeat."""
    key = (await add_key(keys, "station-7", READING, None)).kept.key
    first = await keys.revoke(key, "kim", "The station was sold.")

    assert first == await keys.revoke(key, "lee", "Twice.")


async def test_a_key_that_is_not_there_cannot_be_revoked(keys: DatabaseKeys) -> None:
    """A slip of the pen is told, so that nobody believes the right one revoked."""
    with pytest.raises(KeyUnknownError, match="mky_00000000"):
        await keys.revoke("mky_00000000", "kim", "It was lost.")


async def test_the_version_rises_with_each_change(keys: DatabaseKeys) -> None:
    """Replicas see by it that they have to look; 0 means that nobody ever had a key."""
    before = (await keys.current_state()).version
    key = (await add_key(keys, "station-7", READING, None)).kept.key
    added = (await keys.current_state()).version
    await keys.revoke(key, "kim", "It was lost.")

    assert [0, 1, 2] == [before, added, (await keys.current_state()).version]


async def test_uses_are_noted_again_and_again(keys: DatabaseKeys) -> None:
    """A key that nobody uses can be found and revoked."""
    key = (await add_key(keys, "station-7", READING, None)).kept.key
    await keys.note_uses([key])
    await keys.note_uses([key])

    assert [True] == [each.used_at is not None and each.used_at >= each.added_at for each in await keys.live()]


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE keys SET scopes = 'administer'",
        "DELETE FROM key_revocations",
        "UPDATE key_revocations SET reason = 'none'",
        "DELETE FROM keys",
    ],
)
async def test_the_database_refuses_to_change_a_key(keys: DatabaseKeys, store: Database, statement: str) -> None:
    """A revoked key does not come back, and none gets more scopes, whoever tries."""
    key = (await add_key(keys, "station-7", READING, None)).kept.key
    await keys.revoke(key, "kim", "It was lost.")
    with pytest.raises(DBAPIError, match="never changes"):
        async with store.engine.begin() as connection:
            await connection.execute(text(statement))


@pytest.mark.parametrize(
    ("name", "scopes", "at"),
    [("local", READING, "/name"), ("a b", READING, "/name"), ("", READING, "/name"), ("kim", frozenset(), "/scopes")],
)
async def test_a_key_of_no_use_is_not_made(keys: DatabaseKeys, name: str, scopes: frozenset[Scope], at: str) -> None:
    """`local` is everybody without a key; a name must be able to stand in a journal."""
    with pytest.raises(FlawedDocumentError) as refused:
        await add_key(keys, name, scopes, None)

    assert [at] == [flaw.at for flaw in refused.value.flaws]


async def test_a_key_that_has_expired_already_is_not_made(keys: DatabaseKeys) -> None:
    """By the database's clock, by which it would be refused."""
    now = (await keys.current_state()).now
    with pytest.raises(FlawedDocumentError, match="already have expired"):
        await add_key(keys, "kim", READING, now - timedelta(seconds=1))


async def test_days_and_dates_say_when_a_key_expires(keys: DatabaseKeys) -> None:
    """Both are what people write; a date is its first moment in UTC."""
    now = (await keys.current_state()).now

    assert now + timedelta(days=90) == expiry_of("90d", now)
    assert "2027-01-31T00:00:00+00:00" == expiry_of("2027-01-31", now).isoformat()
    assert "2027-01-31T10:00:00+00:00" == expiry_of("2027-01-31T12:00:00+02:00", now).isoformat()
    with pytest.raises(ValueError, match="not a date"):
        expiry_of("soon", now)
