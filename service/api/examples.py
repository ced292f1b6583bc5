"""The documents that the OpenAPI document shows. All grades, figures and names are invented."""

from collections.abc import Mapping
from typing import Any

SPECIFICATION: Mapping[str, Any] = {
    "title": "Sisal baler twine, 130 m/kg",
    "article": "baler twine",
    "package": "ball",
    "document": {"title": "Twine for balers", "edition": "4", "date": "2025-06-01", "buyer": "B-17"},
    "characteristics": [
        {"name": "runnage", "unit": "m/kg", "sample": {"plan": "fixed", "packages": 5}},
        {
            "name": "breaking_force",
            "unit": "N",
            "sample": {"plan": "fixed", "packages": 2, "readings_per_package": 2},
        },
        {"name": "twist_direction"},
    ],
    "requirements": [
        {
            "id": "runnage",
            "kind": "mean",
            "of": "runnage",
            "limits": {"nominal": 130, "minus": 5, "plus": 5, "tolerance": "percent"},
            "clause": "3.1",
        },
        {"id": "strength", "kind": "mean", "of": "breaking_force", "limits": {"lower": 1400}, "clause": "3.2"},
        {
            "id": "weak-places",
            "kind": "each",
            "of": "breaking_force",
            "limits": {"lower": 1120},
            "allowed_outside": {"count": 1},
            "outer": {"lower": 980},
        },
        {"id": "direction", "kind": "declared", "of": "twist_direction", "one_of": ["Z"]},
    ],
}
EVIDENCE: Mapping[str, Any] = {
    "lot": {"id": "0412-07", "size": 480},
    "series": [
        {
            "characteristic": "breaking_force",
            "unit": "lbf",
            "packages": ["b1", "b1", "b2", "b2"],
            "values": [331.5, 340, 318.25, 322],
        },
        {"characteristic": "runnage", "unit": "m/kg", "values": [128.9, 131.2, 130.4, 127.8, 129.5]},
    ],
    "declared": [{"characteristic": "twist_direction", "value": "Z"}],
}
GRADE = "TB-130"
CHECK: Mapping[str, Any] = {"grade": GRADE, "characteristic": "breaking_force", "unit": "N", "value": 1432.5}
CHECK_OF_A_LOT: Mapping[str, Any] = {"lot": "0412-07", "characteristic": "breaking_force", "unit": "N", "value": 1104}
CHECK_OF_A_MEAN: Mapping[str, Any] = {
    "grade": GRADE,
    "revision": 1,
    "characteristic": "runnage",
    "unit": "m/kg",
    "value": 128.9,
}
BY_GRADE: Mapping[str, Any] = {"against": {"grade": GRADE}, "evidence": EVIDENCE}
BY_SPECIFICATION: Mapping[str, Any] = {"against": {"specification": SPECIFICATION}, "evidence": EVIDENCE}
BY_ARTICLE: Mapping[str, Any] = {"evidence": EVIDENCE, "article": "baler twine"}
BY_LIST: Mapping[str, Any] = {"evidence": EVIDENCE, "grades": [GRADE]}
TO_DRAW: Mapping[str, Any] = {"against": {"grade": GRADE}, "lot": {"size": 1200}}
TO_DRAW_BY_SPECIFICATION: Mapping[str, Any] = {"against": {"specification": SPECIFICATION}, "lot": {"size": 3}}
PLAN_BY_ATTRIBUTES: Mapping[str, Any] = {
    "sample": {"plan": "code_letter", "table": "MIL-STD-105E", "level": "II", "aql": 2.5, "scheme": "double"},
    "lot": {"size": 1200},
    "qualities": [1, 2.5, 5, 10],
}
PLAN_BY_VARIABLES: Mapping[str, Any] = {
    "sample": {"plan": "two_point", "producer": {"percent": 1, "risk": 5}, "consumer": {"percent": 6.5, "risk": 10}},
    "by": "variables",
    "qualities": [1, 6.5],
}
KEY = "mky_1a2b3c4d"
DIGEST = "sha256:5f0c1d6e9a7b3c2d4e8f90a1b2c3d4e5f60718293a4b5c6d7e8f9a0b1c2d3e4f"
"""Looks like the digest of a specification; see the operations on specifications for real ones."""
CREATED, RELEASED, WITHDRAWN = "2026-11-20T08:00:00Z", "2026-11-25T00:00:00Z", "2027-01-08T10:30:00Z"
REASON = "The buyer has withdrawn edition 4."
FLAWED: Mapping[str, Any] = {
    "characteristics": [{"name": "breaking_force", "unit": "kg"}],
    "requirements": [{"id": "strength", "kind": "mean", "of": "breaking_force", "limits": {"lower": 1400, "upper": 1200}}],
}
