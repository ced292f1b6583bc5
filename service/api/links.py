"""How one gets from an answer to the next request: the links of the OpenAPI document."""

from collections.abc import Mapping
from typing import Any, NamedTuple

Parameters = Mapping[str, str]
GRADE: Parameters = {"grade": "$request.path.grade"}
REVISION: Parameters = {**GRADE, "revision": "$response.body#/revision"}
LOT: Parameters = {"lot": "$request.path.lot"}
VERDICT: Parameters = {**LOT, "verdict": "$response.body#/number"}
TO_A_LOT = ("lot", "lot-evidence", "lot-changes", "readings", "close")
"""From an answer to what was recorded of a lot that may still be open."""
TO_A_VERDICT = ("verdict", "judged-evidence", "replay", "verdicts", "correction", "disposition", "lot")
"""From an answer with a verdict that is kept."""


class Link(NamedTuple):
    """The operation that comes next, what it does, and where its parameters are found."""

    operation: str
    description: str
    parameters: Parameters


LINKS: Mapping[str, Link] = {
    "release": Link("releaseRevision", "Release this draft.", REVISION),
    "replace": Link("replaceSpecification", "Replace its document.", {**REVISION, "If-Match": "$response.header.ETag"}),
    "specification": Link("showSpecification", "Its document.", REVISION),
    "revision": Link("showRevision", "Its state.", REVISION),
    "changes": Link("showChanges", "What differs from the revision before.", REVISION),
    "withdraw": Link("withdrawRevision", "Withdraw it.", REVISION),
    "in-force": Link("showInForce", "Which revision of the grade is in force.", GRADE),
    "open-lot": Link("openLot", "Open another lot.", {}),
    "first-lot": Link("showLot", "The first of them.", {"lot": "$response.body#/lots/0/lot"}),
    "lot": Link("showLot", "The lot as it is now.", LOT),
    "lot-evidence": Link("showEvidence", "All that is known of the lot.", LOT),
    "lot-changes": Link("listLotChanges", "What was recorded of the lot, and by whom.", LOT),
    "attributes": Link("addAttributes", "Add attributes to the lot.", LOT),
    "move": Link("moveLot", "Move the lot to a newer revision.", LOT),
    "readings": Link("recordReadings", "Record what was measured of the lot.", LOT),
    "batch": Link("showBatch", "The batch as it is kept.", {**LOT, "batch": "$response.body#/batch"}),
    "strike": Link("strike", "Strike something of it out.", LOT),
    "close": Link("closeLot", "Close the lot.", LOT),
    "verdict": Link("showVerdict", "The verdict as it is kept.", VERDICT),
    "judged-evidence": Link("showJudgedEvidence", "The evidence that it rests on.", VERDICT),
    "replay": Link("replayVerdict", "Judge it again.", VERDICT),
    "verdicts": Link("listVerdicts", "All verdicts of the lot.", LOT),
    "correction": Link("correctLot", "Correct the lot.", LOT),
    "disposition": Link("disposeOfLot", "Say what is done with the lot.", LOT),
}
"""By the names under which replies refer to them."""


def links() -> dict[str, Any]:
    """All of them, as components of the document."""
    return {
        name: {"operationId": each.operation, "description": each.description, "parameters": dict(each.parameters)}
        for name, each in LINKS.items()
    }
