"""Documents of API keys."""

from typing import Annotated

from msgspec import UNSET, Meta, Struct, UnsetType

from service.api.moments import Moment
from service.api.strict.shapes import KEY_BEGINNING
from service.engine.documents import LongText
from service.ports.catalogue import Scope

KeyBeginning = Annotated[str, Meta(pattern=KEY_BEGINNING, max_length=12)]


class KeyShown(Struct, frozen=True):
    """A key without its secret."""

    key: KeyBeginning
    """The prefix that identifies the key."""
    name: str
    """Name of the key's owner; one person may have several keys."""
    scopes: list[Scope]
    added_at: Moment
    expires_at: Moment | UnsetType = UNSET
    revoked_at: Moment | UnsetType = UNSET
    reason: str | UnsetType = UNSET
    """Why it was revoked."""
    used_at: Moment | UnsetType = UNSET
    """When the key was last used, to about a minute; left out where it was never used."""


class KeyList(Struct, frozen=True):
    """Keys in the order of their prefixes."""

    keys: list[KeyShown]
    next: str | UnsetType = UNSET
    """Send it as `after` to get the next page; left out on the last page."""


class Revocation(Struct, frozen=True, forbid_unknown_fields=True):
    """Why a key is revoked."""

    reason: LongText
