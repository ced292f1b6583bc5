"""The documents of concessions and dispositions that the OpenAPI document shows. All figures and names are invented."""

from collections.abc import Mapping
from typing import Any

from service.api.ledger_examples import LOT

CONCESSION: Mapping[str, Any] = {
    "for": "release",
    "authority": "The buyer's letter of 27 November 2026",
    "reason": "The buyer takes the lot for hay of this season, at a lower price.",
}
GRANTED: Mapping[str, Any] = {
    "lot": LOT,
    "concession": "C-114",
    "granted_at": "2026-11-27T09:12:00Z",
    "by": "sales",
    **CONCESSION,
    "verdict": 1,
}
HOLD: Mapping[str, Any] = {"id": "D-1", "disposition": "hold", "reason": "The laboratory measures the oil again."}
RELEASE: Mapping[str, Any] = {
    "id": "D-2",
    "disposition": "release",
    "reason": "As the buyer has agreed.",
    "concession": "C-114",
}
REGRADE: Mapping[str, Any] = {
    "id": "D-3",
    "disposition": "regrade",
    "reason": "Strong enough for the lighter grade.",
    "grade": "TB-110",
}
DISPOSED: Mapping[str, Any] = {
    "lot": LOT,
    "number": 2,
    "recorded_at": "2026-11-27T10:40:05Z",
    "by": "quality",
    **RELEASE,
    "verdict": 1,
    "is_of_earlier_verdict": False,
}
