"""The documents of lines that the OpenAPI document shows; all names are invented."""

from collections.abc import Mapping
from typing import Any

from service.api import examples, ledger_examples

LINE = "L-3"
SWITCHED: Mapping[str, Any] = {
    "from": "normal",
    "to": "tightened",
    "code": "two-of-five-rejected",
    "text": "2 of the last 3 lots under normal inspection were not accepted: inspection is tightened.",
    "lot": ledger_examples.LOT,
}
DECISION: Mapping[str, Any] = {
    "id": "QM-12",
    "class": "major",
    "inspection": "normal",
    "reason": "The knotter was replaced and set anew.",
}
SHOWN: Mapping[str, Any] = {
    "grade": examples.GRADE,
    "line": LINE,
    "classes": [
        {
            "class": "major",
            "state": "tightened",
            "inspection": "tightened",
            "recent": [],
            "accepted_in_a_row": 2,
            "rejected": 0,
            "switches": [SWITCHED],
        }
    ],
    "decisions": [],
}
DECIDED: Mapping[str, Any] = {
    **SHOWN,
    "classes": [
        {
            "class": "major",
            "state": "normal",
            "inspection": "normal",
            "recent": [],
            "accepted_in_a_row": 0,
            "rejected": 0,
            "switches": [
                SWITCHED,
                {
                    "from": "tightened",
                    "to": "normal",
                    "code": "decided",
                    "text": "It was decided that inspection is normal: The knotter was replaced and set anew.",
                    "override": "QM-12",
                },
            ],
        }
    ],
    "decisions": [{**DECISION, "at": "2026-11-26T09:12:00Z", "by": "quality"}],
}
