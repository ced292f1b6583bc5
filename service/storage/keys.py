"""The Keys port over a database."""

from collections.abc import Iterable, Sequence
from typing import Any

from sqlalchemy import ColumnElement, Row, func, insert, or_, select, update
from sqlalchemy.ext.asyncio import AsyncConnection

from service.engine.documents import quoted
from service.ports.catalogue import LOCAL, Key, KeysState, KeyUnknownError, Scope, TooManyKeysError
from service.storage.database import (
    Database,
    key_revocations,
    key_uses,
    keys,
    lock_catalogue,
    now_expression,
    to_microseconds,
    to_moment,
)
from service.storage.journal import append, timestamp

MOST_LIVE = 10_000
"""Maximum number of valid keys; every replica has all of them in memory."""

_KEYS = (
    select(keys, key_revocations.c.revoked_at, key_revocations.c.reason, key_uses.c.used_at)
    .outerjoin(key_revocations, key_revocations.c.key == keys.c.key)
    .outerjoin(key_uses, key_uses.c.key == keys.c.key)
)


class DatabaseKeys:
    """Keys in SQLite or PostgreSQL."""

    def __init__(self, database: Database) -> None:
        """Use a database whose tables exist."""
        self._database = database

    async def current_state(self) -> KeysState:
        """Return the number of additions and revocations, and the clock."""
        # Rows of both tables are never deleted, so their number only grows and can serve as a version.
        added, revoked = (select(func.count()).select_from(table).scalar_subquery() for table in (keys, key_revocations))
        async with self._database.reading() as connection:
            row = (await connection.execute(select(added + revoked, now_expression(connection)))).one()
            return KeysState(row[0], to_moment(row[1]))

    async def live(self) -> Sequence[Key]:
        """Return all keys that are neither revoked nor expired."""
        async with self._database.reading() as connection:
            return [_key(row) for row in await connection.execute(_KEYS.where(_is_live(connection)))]

    async def listed(self, after: str, limit: int) -> Sequence[Key]:
        """Return at most `limit` keys after `after`."""
        query = _KEYS.where(keys.c.key > after).order_by(keys.c.key).limit(limit)
        async with self._database.reading() as connection:
            return [_key(row) for row in await connection.execute(query)]

    async def add(self, key: Key) -> Key:
        """Store a key."""
        async with self._database.writing() as connection:
            now = await lock_catalogue(connection)
            count = select(func.count()).select_from(keys).outerjoin(key_revocations, key_revocations.c.key == keys.c.key)
            if (await connection.execute(count.where(_is_live(connection)))).scalar_one() >= MOST_LIVE:
                raise TooManyKeysError(
                    f"There are already {MOST_LIVE} keys, the most there may be. Revoke one that is not needed any more."
                )
            values = {
                "key": key.key,
                "name": key.name,
                "digest": key.digest,
                "scopes": " ".join(scope for scope in Scope if scope in key.scopes),
                "added_at": now,
                "expires_at": None if key.expires_at is None else to_microseconds(key.expires_at),
            }
            await connection.execute(insert(keys).values(values))
            about = {name: values[name] for name in ("key", "name", "digest", "scopes")}
            expiry = {} if key.expires_at is None else {"expires_at": timestamp(key.expires_at)}
            await append(connection, now, LOCAL, {"what": "key-added", **about, **expiry})
            return await _key_of(connection, key.key)

    async def revoke(self, key: str, by: str, reason: str) -> Key:
        """Revoke a key, unless it is revoked."""
        async with self._database.writing() as connection:
            now = await lock_catalogue(connection)
            found = await _key_of(connection, key)
            if found.revoked_at is not None:
                return found
            values = {"key": key, "revoked_at": now, "revoked_by": by, "reason": reason}
            await connection.execute(insert(key_revocations).values(values))
            await append(connection, now, by, {"what": "key-revoked", "key": key, "reason": reason})
            return await _key_of(connection, key)

    async def note_uses(self, used: Iterable[str]) -> None:
        """Record the time of the last use, one row for each key."""
        async with self._database.writing() as connection:
            now = await lock_catalogue(connection)
            # Not in the journal: no decision reads when a key was used.
            for key in sorted(used):
                existing = (await connection.execute(select(key_uses.c.key).where(key_uses.c.key == key))).first()
                change = update(key_uses).where(key_uses.c.key == key) if existing else insert(key_uses)
                await connection.execute(change.values({"used_at": now} if existing else {"key": key, "used_at": now}))


def _is_live(connection: AsyncConnection) -> ColumnElement[bool]:
    return key_revocations.c.revoked_at.is_(None) & or_(
        keys.c.expires_at.is_(None), keys.c.expires_at > now_expression(connection)
    )


async def _key_of(connection: AsyncConnection, key: str) -> Key:
    """Read the key with this prefix. Raises KeyUnknownError."""
    row = (await connection.execute(_KEYS.where(keys.c.key == key))).first()
    if row is None:
        raise KeyUnknownError(f"There is no key {quoted(key)}. `markeryarn key list` lists the keys.")
    return _key(row)


def _key(row: Row[*tuple[Any, ...]]) -> Key:
    """Return a row of _KEYS as a Key."""
    return Key(
        key=row.key,
        name=row.name,
        digest=row.digest,
        scopes=frozenset(map(Scope, row.scopes.split())),
        added_at=to_moment(row.added_at),
        expires_at=None if row.expires_at is None else to_moment(row.expires_at),
        revoked_at=None if row.revoked_at is None else to_moment(row.revoked_at),
        reason=row.reason or "",
        used_at=None if row.used_at is None else to_moment(row.used_at),
    )
