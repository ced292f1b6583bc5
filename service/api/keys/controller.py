"""The controller of API keys: list and revoke them; new ones are made on the machine, by `markeryarn key add`."""

from typing import Annotated

from litestar import Controller
from litestar.di import NamedDependency
from litestar.params import JSONBody
from msgspec import UNSET, Struct

from service.api.bodies.receiving import StrictRequest
from service.api.handlers import get, post
from service.api.keys import operations
from service.api.keys.documents import KeyBeginning as Beginning
from service.api.keys.documents import KeyList, KeyShown, Revocation
from service.api.operations import documented
from service.api.parameters import KeyBeginning, Limit, query_parameter
from service.ports.catalogue import Key, Keys, Scope
from service.usecases.keys import Keyring
from service.usecases.keys import issuing as use
from service.usecases.paging import MOST_AT_ONCE

AfterKey = Annotated[Beginning | None, query_parameter("Only keys that come after this one.", "mky_1a2b3c4d")]


class KeyRegister(Struct, frozen=True):
    """The stored keys, and the keyring of valid ones in memory, which learns of a revocation at once."""

    keys: Keys
    keyring: Keyring


class KeyController(Controller):
    """API keys."""

    path = "/v1/keys"

    @get(**documented(operations.LIST_KEYS))
    async def list_keys(self, register: NamedDependency[KeyRegister], after: AfterKey = None, limit: Limit = None) -> KeyList:
        """List keys in the order of their prefixes, without their secrets."""
        page = await use.list_keys(register.keys, after or "", limit or MOST_AT_ONCE)
        return KeyList([key_shown(key) for key in page.keys], page.after or UNSET)

    @post("/{key:str}/revoke", **documented(operations.REVOKE_KEY))
    async def revoke(
        self,
        key: KeyBeginning,
        data: JSONBody[Revocation],
        register: NamedDependency[KeyRegister],
        request: StrictRequest,
    ) -> KeyShown:
        """Revoke a key."""
        by = request.user.name
        return key_shown(await use.revoke_key(register.keys, register.keyring, key, by, data.reason))


def key_shown(key: Key) -> KeyShown:
    """The answer about a key."""
    return KeyShown(
        key.key,
        key.name,
        # A set in memory has no fixed order, and answers must not vary.
        [scope for scope in Scope if scope in key.scopes],
        key.added_at,
        key.expires_at or UNSET,
        key.revoked_at or UNSET,
        key.reason or UNSET,
        key.used_at or UNSET,
    )
