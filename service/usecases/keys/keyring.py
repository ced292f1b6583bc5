"""Cache of all valid keys by their digests; checking a known one costs a hash and a dictionary lookup."""

import asyncio
import hashlib
import hmac
import time
from collections.abc import Callable, Mapping
from contextlib import suppress

from msgspec import Struct

from service.ports.catalogue import CatalogueAwayError, Key, Keys
from service.usecases.keys.principals import Principal
from service.usecases.polling import ended_within

SECONDS_BETWEEN_NOTES = 60
"""Minimum interval between two records of when keys were used."""
NEVER = float("inf")
AWAY = "The database has not answered for too long to check keys. Try again in a moment."


class CachedKey(Struct, frozen=True):
    """A valid key in memory, with its principal and expiry."""

    key: str
    digest: bytes
    by: Principal
    expires_at: float
    """Seconds since 1970, by the database's clock."""


class Keyring:
    """All keys that were valid at the last refresh."""

    def __init__(
        self,
        keys: Keys,
        *,
        stale_for_s: float = 60,
        poll_every_s: float = 0.5,
        is_for_others: bool = False,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        """Start empty; `refresh` has to be called before use.

        stale_for_s    seconds for which cached keys stay valid while the database is unavailable
        poll_every_s   seconds between two refreshes of `keep_fresh`
        is_for_others  whether the service is to be reachable from other machines
        clock          monotonic seconds, from any origin
        """
        self._keys, self._stale_for_s, self._poll_every_s, self._clock = keys, stale_for_s, poll_every_s, clock
        self.is_for_others = is_for_others
        self._by_digest: Mapping[bytes, CachedKey] = {}
        self._version = -1
        self._valid_until = self._ahead_s = self._noted_at = 0.0
        self._used: set[str] = set()
        self._running: asyncio.Task[None] | None = None
        self._next: asyncio.Task[None] | None = None

    @property
    def is_open(self) -> bool:
        """True if the database had never had a key at the last refresh: every caller is `local`."""
        return self._version == 0

    @property
    def is_known(self) -> bool:
        """False until the first refresh, when it is not known whether keys are required."""
        return self._version >= 0

    def principal(self, token: bytes) -> Principal | None:
        """Return the principal of a token; None if it is not valid. Raises CatalogueAwayError if the cache is too old."""
        digest = hashlib.sha256(token).digest()
        found = self._by_digest.get(digest)
        if found is None or not hmac.compare_digest(found.digest, digest):
            return None
        now = self._clock()
        if now > self._valid_until:
            raise CatalogueAwayError(AWAY)
        if now + self._ahead_s >= found.expires_at:
            return None
        self._used.add(found.key)
        return found.by

    async def look_again(self) -> None:
        """Wait for a refresh that begins after this call; concurrent calls share one. Raises CatalogueAwayError."""
        # Shared, so that a new key is valid at once while made-up tokens cost at most one statement at a time. Not the running
        # refresh: that may have read the keys before this one was added.
        if self._next is None:
            self._next = asyncio.create_task(self._after(self._running))
        # Shielded, as a caller who hangs up must not cancel the refresh of the others.
        await asyncio.shield(self._next)

    async def refresh(self) -> None:
        """Read the version of the keys, and all valid keys if it has changed. Raises CatalogueAwayError."""
        asked_at = self._clock()
        current_state = await self._keys.current_state()
        ahead_s = current_state.now.timestamp() - self._clock()
        if current_state.version != self._version:
            held = {bytes.fromhex(key.digest): _cached(key) for key in await self._keys.live()}
            # A refresh that began earlier may end later, with older keys.
            if asked_at + self._stale_for_s < self._valid_until:
                return
            self._by_digest, self._version = held, current_state.version
        self._ahead_s, self._valid_until = ahead_s, max(self._valid_until, asked_at + self._stale_for_s)

    async def keep_fresh(self, ending: asyncio.Event) -> None:
        """Refresh and record uses of keys periodically until `ending` is set, also while the database is unavailable."""
        while not await ended_within(ending, self._poll_every_s):
            with suppress(CatalogueAwayError):
                await self.refresh()
                await self.note_uses()

    async def note_uses(self) -> None:
        """Record which keys were used, at most once a minute. Raises CatalogueAwayError."""
        if self._used and self._clock() - self._noted_at >= SECONDS_BETWEEN_NOTES:
            self._noted_at, used, self._used = self._clock(), self._used, set()
            await self._keys.note_uses(used)

    async def _after(self, running: asyncio.Task[None] | None) -> None:
        """Refresh once the running refresh has ended."""
        if running is not None and not running.done():
            await asyncio.wait([running])
        self._running, self._next = self._next, None
        await self.refresh()


def _cached(key: Key) -> CachedKey:
    expires_at = NEVER if key.expires_at is None else key.expires_at.timestamp()
    return CachedKey(key.key, bytes.fromhex(key.digest), Principal(key.name, key.scopes), expires_at)
