"""Declaration of the list of claims on all lots, for the OpenAPI document, logs and access control."""

from service.api.all_claims.documents import ClaimsOfLots
from service.api.operations import Operation, Reply
from service.api.problems import OK
from service.ports.catalogue import Scope

LIST_ALL_CLAIMS = Operation(
    name="listAllClaims",
    tag="lots",
    summary="List claims on all lots",
    description="The newest first, open or settled. Give `next` as `after` to go on; it is left out at the end.",
    scope=Scope.READ,
    replies=(Reply(OK, "Claims.", ClaimsOfLots, links=("claimed-lot", "first-claim")),),
    refusals=("not-ready",),
)
