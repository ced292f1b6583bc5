"""The conformance cases: what is sent, and what has to come back by the rules alone.

Outcomes, values and margins of verdicts are not written here but worked out by the slow judge of `tests.support`; codes, flaws
and answers to checks are by hand.
"""

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

Document = dict[str, Any]


class LotCase(NamedTuple):
    """A lot judged by a specification that comes along; `codes` are those of each requirement's reasons."""

    name: str
    says: str
    specification: Document
    evidence: Document
    codes: Mapping[str, Sequence[str]]


class HandCase(NamedTuple):
    """A request and what has to be in the answer, both by hand."""

    name: str
    says: str
    path: str
    body: Document
    answer: Document


class CheckCase(NamedTuple):
    """One reading checked against a grade of `GRADES`; `answer` is what has to be in the answer."""

    name: str
    says: str
    check: Document
    answer: Document


class FlawCase(NamedTuple):
    """A request that is refused; `flaws` are (at, code), all of them in their order."""

    name: str
    says: str
    path: str
    body: Document
    flaws: Sequence[tuple[str, str]]


def specification(*requirements: Document, characteristics: Sequence[Document] = ()) -> Document:
    """A specification; without characteristics, of a breaking force in newtons."""
    return {
        "title": "Invented figures",
        "characteristics": list(characteristics) or [{"name": "breaking_force", "unit": "N"}],
        "requirements": [{"id": f"r{number}", **each} for number, each in enumerate(requirements, 1)],
    }


def on(kind: str, of: str = "breaking_force", **members: Any) -> Document:
    """A requirement of that kind."""
    return {"kind": kind, "of": of, **members}


def lot(*series: Document, size: int | None = None, declared: Sequence[Document] = ()) -> Document:
    """Evidence on a lot."""
    told: Document = {"lot": {"id": "0412-07"} | ({"size": size} if size else {})}
    if series:
        told["series"] = list(series)
    if declared:
        told["declared"] = list(declared)
    return told


def readings(*values: float, of: str = "breaking_force", unit: str = "N", packages: Sequence[str] = ()) -> Document:
    """A series."""
    series: Document = {"characteristic": of, "unit": unit, "values": list(values)}
    return series | ({"packages": list(packages)} if packages else {})
