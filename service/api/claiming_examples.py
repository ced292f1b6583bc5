"""The documents of claims that the OpenAPI document shows. All figures and names are invented."""

from collections.abc import Mapping
from typing import Any

from service.api.ledger_examples import LOT

NAME = "R-2027-3"
EVIDENCE: Mapping[str, Any] = {
    "lot": {"id": LOT},
    "series": [
        {
            "characteristic": "breaking_force",
            "unit": "N",
            "packages": ["b2", "b2", "x1", "x1"],
            "values": [1391, 1402, 1377, 1384],
            "method": "ISO 2307",
        }
    ],
}
CLAIM: Mapping[str, Any] = {
    "from": "Buyer B-17",
    "received_on": "2027-06-01",
    "requirements": ["strength"],
    "evidence": EVIDENCE,
}
SETTLEMENT: Mapping[str, Any] = {
    "settlement": "shared",
    "reason": "Two of their packages are not of this lot; half of the price is credited.",
}
CLAIMED: Mapping[str, Any] = {
    "claim": NAME,
    "from": CLAIM["from"],
    "received_on": CLAIM["received_on"],
    "requirements": CLAIM["requirements"],
    "recorded_at": "2027-06-02T08:15:00Z",
    "by": "sales",
    "verdict": 1,
    "is_of_earlier_verdict": False,
}
SETTLED: Mapping[str, Any] = {
    **CLAIMED,
    "settled": {**SETTLEMENT, "settled_at": "2027-06-21T13:00:00Z", "by": "quality"},
}
