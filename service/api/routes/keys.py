"""The routes of keys."""

from service.api import examples
from service.api.documents import KeyBeginning, KeyList, KeyShown, Revocation
from service.api.handlers.keys import list_keys, revoke_key
from service.api.problems import OK
from service.api.requests import Parameter
from service.api.routes.catalogue import LIMIT
from service.api.routing import Body, Example, Reply, Route
from service.ports import Scope

KEY = {"key": examples.KEY, "name": "station-7", "scopes": ["read", "check"], "added_at": examples.CREATED}
REVOKED = {**KEY, "revoked_at": examples.WITHDRAWN, "reason": "The station was sold."}


def key_routes() -> tuple[Route, ...]:
    """Listing keys and revoking them; they are added on the machine alone, by `markeryarn key add`."""
    return (
        Route(
            method="GET",
            path="/v1/keys",
            operation_id="listKeys",
            scope=Scope.ADMINISTER,
            tag="keys",
            summary="List keys",
            description="Revoked and expired ones too, in the order of their beginnings, without what is secret. Give `next` "
            "as `after` to go on; the last page has none.",
            handler=list_keys,
            parameters=[Parameter("after", KeyBeginning, "Only keys that come after this one.", examples.KEY), LIMIT],
            replies=[Reply(OK, "Keys.", KeyList, [Example("one", {"keys": [KEY]})])],
            refusals=("not-ready",),
        ),
        Route(
            method="POST",
            path="/v1/keys/{key}/revoke",
            operation_id="revokeKey",
            scope=Scope.ADMINISTER,
            tag="keys",
            summary="Revoke a key",
            description="The key is refused from now on, by every replica within a second while the database is there. One "
            "that is revoked already stays as it is, so that it is safe to repeat. Revoking the last key does not open the "
            "service.",
            handler=revoke_key,
            body=Body(Revocation, [Example("sold", {"reason": "The station was sold."})]),
            replies=[Reply(OK, "The revoked key.", KeyShown, [Example("revoked", REVOKED)])],
            refusals=("not-found", "not-ready"),
        ),
    )
