"""The keys that a replica holds in memory, by their digests: a known one costs a caller a look into a dictionary."""

import asyncio
import hashlib
import hmac
import time
from collections.abc import Callable, Mapping
from contextlib import suppress

from msgspec import Struct

from service.ports.catalogue import CatalogueAwayError, Key, Keys
from service.usecases.keys.principals import Principal
from service.usecases.polling import is_over

SECONDS_BETWEEN_NOTES = 60
"""So often at most it is noted that a key was used."""
NEVER = float("inf")
AWAY = "The database has been away for too long to say whose key is good. Ask again in a moment."


class Holding(Struct, frozen=True):
    """A key in memory: whose it is, and until when it is good."""

    key: str
    digest: bytes
    by: Principal
    expires_at: float
    """Seconds since 1970 by the database's clock."""


class Keyring:
    """All keys that are good, as they were at the last look."""

    def __init__(
        self,
        keys: Keys,
        *,
        stale_for_s: float = 60,
        poll_every_s: float = 0.5,
        is_for_others: bool = False,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        """Empty, and not known yet whether keys are asked for; `refresh` makes it ready.

        stale_for_s    how long keys are good from memory while the database is away
        is_for_others  whether others than this machine are to reach the service
        clock          seconds that only grow, from any origin
        """
        self._keys, self._stale_for_s, self._poll_every_s, self._clock = keys, stale_for_s, poll_every_s, clock
        self.is_for_others = is_for_others
        self._held: Mapping[bytes, Holding] = {}
        self._version = -1
        self._good_until = self._ahead_s = self._noted_at = 0.0
        self._used: set[str] = set()
        self._look: asyncio.Task[None] | None = None
        self._next: asyncio.Task[None] | None = None

    @property
    def is_open(self) -> bool:
        """True where the database had no key at the last look, nor ever before: everybody is `local`."""
        return self._version == 0

    @property
    def is_known(self) -> bool:
        """False until the first look: whether keys are asked for is not known then."""
        return self._version >= 0

    def principal(self, token: bytes) -> Principal | None:
        """Whose key this is; None where it is not among those that are good. Raises CatalogueAwayError if that is too old."""
        digest = hashlib.sha256(token).digest()
        found = self._held.get(digest)
        if found is None or not hmac.compare_digest(found.digest, digest):
            return None
        now = self._clock()
        if now > self._good_until:
            raise CatalogueAwayError(AWAY)
        if now + self._ahead_s >= found.expires_at:
            return None
        self._used.add(found.key)
        return found.by

    async def look_again(self) -> None:
        """A look that begins from now on; all who come while one is under way wait for the same next one.

        So a key is good as soon as it is made, and tokens made up cost one statement at a time. Raises CatalogueAwayError.
        """
        if self._next is None:
            self._next = asyncio.create_task(self._after(self._look))
        await asyncio.shield(self._next)

    async def refresh(self) -> None:
        """Read whether keys have changed, and take over those that are good. Raises CatalogueAwayError."""
        asked_at = self._clock()
        current_state = await self._keys.current_state()
        ahead_s = current_state.now.timestamp() - self._clock()
        if current_state.version != self._version:
            held = {bytes.fromhex(key.digest): _holding(key) for key in await self._keys.live()}
            # A look that began earlier may end later: what it has seen is older.
            if asked_at + self._stale_for_s < self._good_until:
                return
            self._held, self._version = held, current_state.version
        self._ahead_s, self._good_until = ahead_s, max(self._good_until, asked_at + self._stale_for_s)

    async def keep_fresh(self, ending: asyncio.Event) -> None:
        """Refresh until it is time to end, and note now and then which keys were used; try again each time.

        The database may be away meanwhile.
        """
        while not await is_over(ending, self._poll_every_s):
            with suppress(CatalogueAwayError):
                await self.refresh()
                await self.note_uses()

    async def note_uses(self) -> None:
        """Note which keys were used, at most once a minute. Raises CatalogueAwayError."""
        if self._used and self._clock() - self._noted_at >= SECONDS_BETWEEN_NOTES:
            self._noted_at, used, self._used = self._clock(), self._used, set()
            await self._keys.note_uses(used)

    async def _after(self, look: asyncio.Task[None] | None) -> None:
        """Look when the look that is under way is over."""
        if look is not None and not look.done():
            await asyncio.wait([look])
        self._look, self._next = self._next, None
        await self.refresh()


def _holding(key: Key) -> Holding:
    expires_at = NEVER if key.expires_at is None else key.expires_at.timestamp()
    return Holding(key.key, bytes.fromhex(key.digest), Principal(key.name, key.scopes), expires_at)
