"""Small specifications that count classes and faults, and evidence of what was counted; figures and names are invented."""

from tests.support.grades import FORCE, Document, fixed
from tests.support.judging import judged


def attributes(at_most: int | None = 2, packages: int = 80, **members: object) -> Document:
    """At most so many of so many packages nonconforming in class `major`, where nothing else is said."""
    accept = {} if at_most is None else {"at_most": at_most}
    return {"kind": "attributes", "class": "major", "sample": fixed(packages), **accept, **members}


def look_grade(*requirements: Document, **members: object) -> Document:
    """A specification with these requirements on what is looked over; ids `r0`, `r1` and so on."""
    numbered = [{"id": f"r{number}", **each} for number, each in enumerate(requirements)]
    return {"characteristics": [FORCE], "requirements": numbered, **members}


def count(inspected: int | None = None, nonconforming: int | None = None, of: str = "major", **members: object) -> Document:
    """What was counted of a class."""
    given = {"inspected": inspected, "nonconforming": nonconforming}
    return {"class": of, **{name: number for name, number in given.items() if number is not None}, **members}


def fault(name: str, **members: object) -> Document:
    """What was counted of a fault."""
    return {"fault": name, **members}


def looked_over(*counts: Document, **lot: object) -> Document:
    """Evidence on a lot with these counts."""
    return {"lot": {"id": "L-1", **lot}, "counts": list(counts)}


def finding_on(specification: Document, *counts: Document, **lot: object) -> Document:
    """The finding of the first requirement."""
    finding: Document = judged(specification, looked_over(*counts, **lot))["findings"][0]
    return finding


def code_of(finding: Document) -> tuple[str, str]:
    """The outcome, and the code of the first reason."""
    return finding["outcome"], finding["reasons"][0]["code"]
