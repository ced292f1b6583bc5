"""The documents of what-if that the OpenAPI document shows. All grades, figures and names are invented."""

from collections.abc import Mapping
from typing import Any

from service.api import examples, ledger_examples

PERIOD: Mapping[str, Any] = {"from": "2026-09-01T00:00:00Z", "until": "2026-12-01T00:00:00Z", "lines": ["L-3"]}
PROGRESS: Mapping[str, Any] = {"kind": "progress", "judged": 100, "of": 412, "changed": 1}
LOT: Mapping[str, Any] = {
    "kind": "lot",
    "lot": ledger_examples.LOT,
    "verdict": 1,
    "then": "pass",
    "now": "fail",
    "requirements": [{"requirement": "strength", "then": "pass", "now": "fail"}, {"requirement": "knot", "now": "pass"}],
}
OUTCOMES = (
    {"then": "pass", "now": "pass", "lots": 405},
    {"then": "pass", "now": "fail", "lots": 3},
    {"then": "fail", "now": "fail", "lots": 4},
)
SUMMARY: Mapping[str, Any] = {
    "kind": "summary",
    "grade": examples.GRADE,
    "revision": 2,
    "specification": examples.DIGEST,
    "judged": 412,
    "of": 412,
    "changed": 3,
    "flawed": 0,
    "outcomes": OUTCOMES,
    "requirements": [
        {
            "requirement": "strength",
            "outcomes": OUTCOMES,
        },
        {"requirement": "knot", "outcomes": [{"now": "pass", "lots": 412}]},
    ],
}
