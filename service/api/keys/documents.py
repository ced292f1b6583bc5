"""Documents of keys."""

from typing import Annotated

from msgspec import UNSET, Meta, Struct, UnsetType

from service.api.moments import Moment
from service.engine.documents import LongText
from service.ports.catalogue import Scope

KeyBeginning = Annotated[str, Meta(pattern=r"^mky_[0-9a-f]{8}\Z", max_length=12)]


class KeyShown(Struct, frozen=True):
    """A key without what is secret of it."""

    key: KeyBeginning
    """The beginning by which it is recognised."""
    name: str
    """Whose it is; one person may have several."""
    scopes: list[Scope]
    added_at: Moment
    expires_at: Moment | UnsetType = UNSET
    revoked_at: Moment | UnsetType = UNSET
    reason: str | UnsetType = UNSET
    """Why it was revoked."""
    used_at: Moment | UnsetType = UNSET
    """When it was last used, to the minute or so; left out where it never was."""


class KeyList(Struct, frozen=True):
    """Keys in the order of their beginnings."""

    keys: list[KeyShown]
    next: str | UnsetType = UNSET
    """Give it as `after` to get the next ones; left out at the end."""


class Revocation(Struct, frozen=True, forbid_unknown_fields=True):
    """Why a key is revoked."""

    reason: LongText
