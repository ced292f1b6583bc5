"""The ledger's documents that the OpenAPI document shows. All grades, figures and names are invented."""

from collections.abc import Mapping
from typing import Any

from service.api import examples

LOT, BATCH, INSTRUMENT = "0412-07", "T3-000118", "TT-2"
OPENED = "2026-11-26T06:10:00Z"
OPENING: Mapping[str, Any] = {
    "grade": examples.GRADE,
    "size": 480,
    "line": "L-3",
    "attributes": [{"name": "order", "value": "4500031877"}],
}
SUMMARY: Mapping[str, Any] = {
    "lot": LOT,
    "grade": examples.GRADE,
    "revision": 1,
    "state": "open",
    "changes": 2,
    "opened_at": OPENED,
    "line": "L-3",
}
SHOWN: Mapping[str, Any] = {
    **SUMMARY,
    "specification": examples.DIGEST,
    "told": {"size": 480},
    "readings": [{"characteristic": "breaking_force", "readings": 2, "struck": 0}],
    "attributes": [{"name": "order", "value": "4500031877"}],
    "verdicts": 0,
}
READINGS: Mapping[str, Any] = {
    "batch": BATCH,
    "station": "T3",
    "operator": "night shift",
    "measured_at": "2026-11-26T06:31:12Z",
    "series": [{"characteristic": "breaking_force", "unit": "N", "packages": ["b1", "b1"], "values": [1474.5, 1512]}],
}
DECLARED: Mapping[str, Any] = {"batch": "ERP-7", "declared": [{"characteristic": "twist_direction", "value": "Z"}]}
RECORDED: Mapping[str, Any] = {
    "lot": LOT,
    "grade": examples.GRADE,
    "revision": 1,
    "specification": examples.DIGEST,
    "evidence": examples.DIGEST,
    "changes": 2,
    "change": 2,
    "batch": BATCH,
    "counted": {"readings": 2},
    "state": "open",
    "requirements": [
        {
            "requirement": "strength",
            "outcome": "undecided",
            "missing": [{"characteristic": "breaking_force", "packages": 1, "readings": 2}],
        }
    ],
}
STRIKE: Mapping[str, Any] = {
    "id": "S-1",
    "of": BATCH,
    "at": ["/series/0/values/1"],
    "reason": "The specimen slipped in the clamp.",
}
STRUCK: Mapping[str, Any] = {
    **{name: value for name, value in RECORDED.items() if name not in {"batch", "counted"}},
    "changes": 3,
    "change": 3,
}
ATTRIBUTES: Mapping[str, Any] = {"id": "INV-1", "attributes": [{"name": "invoice", "value": "R-20931"}]}
MOVE: Mapping[str, Any] = {"id": "M-1", "revision": 2, "reason": "The buyer has agreed to edition 5 for this order."}
CHANGE: Mapping[str, Any] = {
    "number": 2,
    "at": "2026-11-26T06:31:13Z",
    "by": "station-3",
    "kind": "batch",
    "id": BATCH,
    "digest": examples.DIGEST,
}
TESTER: Mapping[str, Any] = {
    "measures": ["force", "elongation_at_break"],
    "calibrated_until": "2027-03-31",
    "uncertainty": [{"unit": "N", "expanded": 8, "coverage_factor": 2}],
    "note": "Tensile tester in the finishing hall.",
}
TESTER_SHOWN: Mapping[str, Any] = {
    "instrument": INSTRUMENT,
    "number": 1,
    "at": "2026-04-02T07:30:00Z",
    "by": "laboratory",
    **TESTER,
}
ROWS: Mapping[str, str] = {
    "application/x-ndjson": '{"characteristic":"breaking_force","unit":"N","value":1474.5,"package":"b1"}\n',
    "text/csv": "characteristic,unit,package,value\nbreaking_force,N,b1,1474.5\nbreaking_force,N,b1,1512\n",
}
CLOSED: Mapping[str, Any] = {
    "lot": LOT,
    "number": 1,
    "recorded_at": "2026-11-26T14:02:40Z",
    "by": "erp",
    "state": "closed",
}
CORRECTION: Mapping[str, Any] = {
    "id": "C-1",
    "reason": "Mistyped: the printout of the tester says 1521.",
    "strikes": [{"of": BATCH, "at": ["/series/0/values/1"]}],
    "series": [{"characteristic": "breaking_force", "unit": "N", "packages": ["b1"], "values": [1521]}],
}
