"""The links of the OpenAPI document: which request can follow an answer, and where its parameters come from."""

from collections.abc import Mapping
from typing import Any, NamedTuple

Parameters = Mapping[str, str]
GRADE: Parameters = {"grade": "$request.path.grade"}
REVISION: Parameters = {**GRADE, "revision": "$response.body#/revision"}
LOT: Parameters = {"lot": "$request.path.lot"}
VERDICT: Parameters = {**LOT, "verdict": "$response.body#/number"}
CONCESSION: Parameters = {**LOT, "concession": "$response.body#/concession"}
CLAIM: Parameters = {**LOT, "claim": "$response.body#/claim/claim"}
NEWEST_CLAIM: Parameters = {"lot": "$response.body#/claims/0/lot", "claim": "$response.body#/claims/0/claim"}
TO_A_LOT = ("lot", "lot-evidence", "lot-changes", "readings", "close")
"""Links of an answer about a lot that may still be open."""
TO_A_VERDICT = (
    "verdict",
    "judged-evidence",
    "replay",
    "verdicts",
    "correction",
    "concession",
    "disposition",
    "claim",
    "lot",
)
"""Links of an answer with a stored verdict."""
TO_A_CONCESSION = ("granted", "concessions", "disposition")
"""Links of an answer with a concession."""
TO_A_DISPOSITION = ("dispositions", "lot")
"""Links of an answer with a disposition."""
TO_A_CLAIM = ("claimed", "claimed-evidence", "settle", "claims")
"""Links of an answer with a claim and both its sides."""
TO_A_SETTLEMENT = ("claims", "lot")
"""Links of an answer with a settled claim."""


class Link(NamedTuple):
    """A follow-up operation, what it does, and the runtime expressions of its parameters."""

    operation: str
    description: str
    parameters: Parameters


LINKS: Mapping[str, Link] = {
    "release": Link("releaseRevision", "Release this draft.", REVISION),
    "replace": Link("replaceSpecification", "Replace its document.", {**REVISION, "If-Match": "$response.header.ETag"}),
    "specification": Link("showSpecification", "Its document.", REVISION),
    "revision": Link("showRevision", "Its state.", REVISION),
    "changes": Link("showChanges", "The changes from the revision before.", REVISION),
    "withdraw": Link("withdrawRevision", "Withdraw it.", REVISION),
    "in-force": Link("showInForce", "Which revision of the grade is in force.", GRADE),
    "open-lot": Link("openLot", "Open another lot.", {}),
    "first-lot": Link("showLot", "The first of them.", {"lot": "$response.body#/lots/0/lot"}),
    "lot": Link("showLot", "The lot as it is now.", LOT),
    "lot-evidence": Link("showEvidence", "All that is recorded of the lot.", LOT),
    "lot-changes": Link("listLotChanges", "What was recorded of the lot, and by whom.", LOT),
    "attributes": Link("addAttributes", "Add attributes to the lot.", LOT),
    "move": Link("moveLot", "Move the lot to a newer revision.", LOT),
    "readings": Link("recordReadings", "Record what was measured of the lot.", LOT),
    "batch": Link("showBatch", "The batch as it is stored.", {**LOT, "batch": "$response.body#/batch"}),
    "strike": Link("strike", "Strike an entry of it.", LOT),
    "close": Link("closeLot", "Close the lot.", LOT),
    "verdict": Link("showVerdict", "The verdict as it is stored.", VERDICT),
    "judged-evidence": Link("showJudgedEvidence", "The evidence that was judged.", VERDICT),
    "replay": Link("replayVerdict", "Judge it again.", VERDICT),
    "verdicts": Link("listVerdicts", "All verdicts of the lot.", LOT),
    "correction": Link("correctLot", "Correct the lot.", LOT),
    "concession": Link("grantConcession", "Grant a concession for the lot.", LOT),
    "granted": Link("showConcession", "The concession as it is stored.", CONCESSION),
    "concessions": Link("listConcessions", "All concessions of the lot.", LOT),
    "disposition": Link("disposeOfLot", "Record what is done with the lot.", LOT),
    "dispositions": Link("listDispositions", "All that was done with the lot.", LOT),
    "claim": Link("makeClaim", "Make a claim on the lot.", LOT),
    "claimed": Link("showClaim", "The claim with both its sides.", CLAIM),
    "claimed-evidence": Link("showClaimEvidence", "The other side's evidence.", CLAIM),
    "settle": Link("settleClaim", "Settle the claim.", CLAIM),
    "claims": Link("listClaims", "All claims on the lot.", LOT),
    "claimed-lot": Link("showLot", "The lot of the newest of them.", {"lot": "$response.body#/claims/0/lot"}),
    "first-claim": Link("showClaim", "The newest of them with both its sides.", NEWEST_CLAIM),
}
"""Links by the names that `Reply.links` uses; tests/contract/test_sequences.py must reach each of them."""


def links() -> dict[str, Any]:
    """All links as components of the document."""
    return {
        name: {"operationId": link.operation, "description": link.description, "parameters": dict(link.parameters)}
        for name, link in LINKS.items()
    }
