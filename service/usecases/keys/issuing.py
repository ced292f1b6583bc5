"""Issuing, listing and revoking keys."""

import hashlib
import re
import secrets
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from functools import partial
from typing import NamedTuple

from service.engine.documents import Flaw, FlawedDocumentError, quoted
from service.ports.catalogue import CatalogueAwayError, Key, Keys, Moment, Scope, written
from service.usecases.keys.keyring import Keyring
from service.usecases.keys.principals import LOCAL
from service.usecases.paging import MOST_AT_ONCE, part

NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}\Z")
BYTES = 32
"""Random bytes in a token."""


class NewKey(NamedTuple):
    """A new key: its stored record, and the token, which can't be shown again."""

    kept: Key
    token: str


class KeyPage(NamedTuple):
    """Keys in order of prefix, and the prefix to continue after; "" on the last page."""

    keys: list[Key]
    after: str


async def add_key(keys: Keys, name: str, scopes: frozenset[Scope], expires_at: Moment | None) -> NewKey:
    """Issue a random key. Raises FlawedDocumentError with every flaw, TooManyKeysError."""
    now = (await keys.current_state()).now
    if flaws := _flaws(name, scopes, expires_at, now):
        raise FlawedDocumentError(flaws)
    # A public prefix, so that lists, journal and revocations can name a key without showing it.
    prefix = f"mky_{secrets.token_hex(4)}"
    token = f"{prefix}_{secrets.token_urlsafe(BYTES)}"
    digest = hashlib.sha256(token.encode()).hexdigest()
    key = Key(key=prefix, name=name, digest=digest, scopes=scopes, added_at=now, expires_at=expires_at)
    return NewKey(await keys.add(key), token)


async def list_keys(keys: Keys, after: str = "", limit: int = MOST_AT_ONCE) -> KeyPage:
    """Return a page of keys after `after`, revoked and expired ones included."""
    found, last = await part(partial(keys.listed, after), limit)
    return KeyPage(list(found), last.key if last else "")


async def revoke_key(keys: Keys, keyring: Keyring, key: str, by: str, reason: str) -> Key:
    """Revoke a key; this replica refuses it from the answer on, others within one poll."""
    revoked = await keys.revoke(key, by, reason)
    # The key is revoked already; without the database the next poll takes it out of memory.
    with suppress(CatalogueAwayError):
        await keyring.refresh()
    return revoked


def expiry_of(text: str, now: Moment) -> Moment:
    """Parse `90d`, `2027-01-31` or `2027-01-31T12:00:00Z`; without an offset it is UTC. Raises ValueError with the remedy."""
    if match := re.fullmatch(r"([1-9][0-9]{0,3})d", text):
        return now + timedelta(days=int(match[1]))
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise ValueError(f"{quoted(text)} is not a date. Write days, as in 90d, or a date, as in 2027-01-31.") from None
    return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)


def _flaws(name: str, scopes: frozenset[Scope], expires_at: Moment | None, now: Moment) -> list[Flaw]:
    """Flaws of a new key."""
    flaws = []
    if not NAME.match(name):
        text = f"{quoted(name)} can't be a name. Use letters, digits, `.`, `_`, `-`, a letter or digit first, at most 64."
        flaws.append(Flaw("not-a-name", text, "/name"))
    if name == LOCAL.name:
        flaws.append(Flaw("name-taken", "`local` is the name of callers without a key. Give another name.", "/name"))
    if not scopes:
        flaws.append(Flaw("no-scopes", "The key has no scope. Give it at least one.", "/scopes"))
    if expires_at is not None and expires_at <= now:
        text = f"The key would already have expired: it is {written(now)} now. Give a later time."
        flaws.append(Flaw("moment-past", text, "/expires_at"))
    return flaws
