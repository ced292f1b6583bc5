"""Keys: which there are, and revoking one."""

from msgspec import UNSET

from service.api.decoding import Shape, decoded
from service.api.documents import KeyList, KeyShown, Revocation
from service.api.problems import Answer
from service.api.requests import Request
from service.api.service import Service, shown
from service.ports import Key, Scope
from service.usecases import keys as use

REVOCATION = Shape(Revocation)


async def list_keys(request: Request, service: Service) -> Answer:
    """Keys in the order of their beginnings, without what is secret."""
    page = await use.list_keys(service.keys, **request.query)
    return shown(KeyList([key_shown(each) for each in page.keys], page.after or UNSET))


async def revoke_key(request: Request, service: Service) -> Answer:
    """Revoke a key."""
    reason, by = (await decoded(request.body, REVOCATION)).reason, request.by.name
    return shown(key_shown(await use.revoke_key(service.keys, service.keyring, request.path["key"], by, reason)))


def key_shown(key: Key) -> KeyShown:
    """A key as it is sent."""
    return KeyShown(
        key.key,
        key.name,
        [scope for scope in Scope if scope in key.scopes],
        key.added_at,
        key.expires_at or UNSET,
        key.revoked_at or UNSET,
        key.reason or UNSET,
        key.used_at or UNSET,
    )
