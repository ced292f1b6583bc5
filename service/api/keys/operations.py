"""Declarations of the operations on API keys, for the OpenAPI document, logs and access control."""

from service.api.keys.documents import KeyList, KeyShown, Revocation
from service.api.operations import Operation, Reply
from service.api.problems import OK
from service.ports.catalogue import Scope

LIST_KEYS = Operation(
    name="listKeys",
    tag="keys",
    summary="List keys",
    description=(
        "Revoked and expired ones too, in the order of their beginnings, without their secrets. Send `next` as `after` to "
        "get the next page; the last page has none."
    ),
    scope=Scope.ADMINISTER,
    replies=(Reply(OK, "Keys.", KeyList),),
    refusals=("not-ready",),
)
REVOKE_KEY = Operation(
    name="revokeKey",
    tag="keys",
    summary="Revoke a key",
    description=(
        "The key is refused from now on, by every replica within a second while the database answers. A key that is "
        "already revoked stays as it is, so that the request can be repeated. Revoking the last key does not open the "
        "service."
    ),
    scope=Scope.ADMINISTER,
    body=Revocation,
    replies=(Reply(OK, "The revoked key.", KeyShown),),
    refusals=("not-found", "not-ready"),
)
