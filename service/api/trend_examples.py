"""The documents of trends that the OpenAPI document shows. All grades, figures and names are invented."""

from collections.abc import Mapping
from typing import Any

from service.api import examples, ledger_examples

CHARACTERISTIC = "breaking_force"
TREND: Mapping[str, Any] = {
    "grade": examples.GRADE,
    "revision": 1,
    "specification": examples.DIGEST,
    "line": "L-3",
    "trend": {
        "characteristic": CHARACTERISTIC,
        "unit": "N",
        "limits": {"lower": 1260},
        "lots": [
            {
                "lot": ledger_examples.LOT,
                "at": ledger_examples.OPENED,
                "readings": 2,
                "mean": 1450,
                "standard_deviation": 50,
            },
            {"lot": "0412-08", "at": "2026-11-26T09:40:00Z", "readings": 2, "mean": 1470, "standard_deviation": 50},
        ],
        "readings": 4,
        "mean": 1460,
        "within": {"standard_deviation": 50, "degrees_of_freedom": 2},
        "overall": {"standard_deviation": 42.426406871192846, "degrees_of_freedom": 3},
        "capability": {"nearest": 1.3333333333333333, "nearest_between": {"lower": -0.0264739, "upper": 2.69314}},
        "performance": {"nearest": 1.571348402636772, "nearest_between": {"lower": 0.271797, "upper": 2.8709}},
        "control": {
            "centre": 1460,
            "lower": 1406.808510638298,
            "upper": 1513.191489361702,
            "mean_moving_range": 20,
            "moving_range_upper": 65.34,
        },
        "signals": [],
    },
    "left_out": [
        {"lot": "0412-09", "code": "not-measured", "text": "The evidence has no reading of breaking force that counts."}
    ],
    "lacking": [],
}
CHART = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1040 420" role="img" aria-labelledby="title desc">…</svg>'
