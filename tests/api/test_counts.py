"""Counts of faults through HTTP: the vocabulary, the shape of what is sent, and a verdict on it."""

import json
from typing import Any

import httpx
import pytest

from service.api.strict.decoding import Shape, decode
from service.engine.documents import Evidence, FlawedDocumentError
from service.engine.grade import Specification
from tests.support.counted import attributes, count, look_grade, looked_over

OF: dict[str, Shape[Any]] = {"requirements": Shape(Specification), "counts": Shape(Evidence)}
JSON = {"content-type": "application/json"}
SPECIFICATION_OF_ALL = look_grade(
    attributes(
        2,
        faults=["slub", "thin_place"],
        counting="occurrences",
        includes=["critical"],
        retest={"sample": {"plan": "fixed", "packages": 160}, "judge": "second", "at_most": 3},
    ),
    {**attributes(0), "class": "critical"},
    {
        "kind": "rate",
        "faults": ["knot"],
        "per": {"value": 1000, "unit": "m"},
        "at_most": 2,
        "at_least_looked_at": {"value": 2, "unit": "km"},
    },
)


async def test_the_faults_that_have_a_name_are_listed(client: httpx.AsyncClient) -> None:
    """A grade's writer looks the words up before inventing others."""
    answer = await client.get("/v1/faults")
    faults = answer.json()["faults"]

    assert (200, "slub") == (answer.status_code, faults[0]["name"])
    assert all({"name", "meaning"} == set(fault) for fault in faults)


async def test_counts_are_judged_through_http(client: httpx.AsyncClient) -> None:
    """A class counted on all balls, and knots on a length."""
    evidence: dict[str, Any] = looked_over(
        count(80, occurrences=2),
        {"class": "critical", "by_package": [0] * 80},
        {"fault": "knot", "occurrences": 3, "looked_at": {"value": 2400, "unit": "m"}},
        size=1200,
        inspection="normal",
    )
    body = {"against": {"specification": SPECIFICATION_OF_ALL}, "evidence": evidence}
    answer = await client.post("/v1/verdicts", content=json.dumps(body), headers=JSON)

    assert 200 == answer.status_code, answer.text
    verdict = answer.json()
    assert "pass" == verdict["outcome"]
    assert ["major", "critical", None] == [finding.get("class") for finding in verdict["findings"]]
    assert {"accept": 2, "reject": 3} == verdict["findings"][0]["limits"]


MAJOR = {"id": "a", "kind": "attributes", "class": "major", "sample": {"plan": "every"}, "at_most": 1}
KNOTS = {"id": "a", "kind": "rate", "faults": ["knot"], "per": {"value": 1000, "unit": "m"}, "at_most": 1}
SHAPES = [
    ("requirements", {name: member for name, member in MAJOR.items() if name != "class"}, "/class"),
    ("requirements", {**MAJOR, "faults": []}, "/faults"),
    ("requirements", {**MAJOR, "counting": "balls"}, "/counting"),
    ("requirements", {**MAJOR, "retest": {"judge": "second"}}, "/retest/sample"),
    ("requirements", {**KNOTS, "per": {"value": 0, "unit": "m"}}, "/per/value"),
    ("counts", {"class": "major", "inspected": -1}, "/inspected"),
    ("counts", {"class": "major", "by_package": [0, 1.5]}, "/by_package/1"),
    ("counts", {"class": "major", "stage": 3}, "/stage"),
    ("counts", {"class": "major", "nonconformng": 3}, "/nonconformng"),
]


@pytest.mark.parametrize(("member", "part", "at"), SHAPES)
def test_a_flaw_of_shape_is_told_where_it_stands(member: str, part: dict[str, Any], at: str) -> None:
    """What is miswritten is told like everything else."""
    rest: dict[str, Any] = {"lot": {"id": "L-1"}}
    if member == "requirements":
        rest = {"characteristics": [{"name": "breaking_force", "unit": "N"}]}
    with pytest.raises(FlawedDocumentError) as refused:
        decode(json.dumps({**rest, member: [part]}).encode(), OF[member])

    assert [f"/{member}/0{at}"] == [flaw.at for flaw in refused.value.flaws]
