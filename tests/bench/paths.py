"""What the guard counts: a fixed piece of work to compare with, and the paths that callers wait on, bytes in and bytes out.

Run as a program it does each of them so many times, and marks in between: see `counting`.
"""

import os
from collections.abc import Callable, Mapping
from typing import Final

import msgspec

from service.api.strict.decoding import Shape, decode
from service.engine.checking import judge_reading
from service.engine.documents import Check, Evidence
from service.engine.grade import CompiledGrade, Specification, compile_specification
from service.engine.judging import judge
from service.usecases.judging import LotToJudge

GRADE = "TB-130"
SPECIFICATION = b"""{
    "title": "Baler twine, 130 m/kg (invented figures)", "article": "baler twine", "package": "ball",
    "characteristics": [{"name": "breaking_force", "unit": "N"}],
    "requirements": [
        {"id": "weak-places", "kind": "each", "of": "breaking_force", "limits": {"lower": 1120},
         "allowed_outside": {"count": 1}},
        {"id": "strength", "kind": "mean", "of": "breaking_force", "limits": {"lower": 1400}},
        {"id": "evenness", "kind": "spread", "of": "breaking_force", "statistic": "standard_deviation", "at_most": 120}
    ]
}"""
CHECK = b'{"grade": "TB-130", "characteristic": "breaking_force", "unit": "N", "value": 1432.5}'
LOT = (
    b'{"against": {"grade": "TB-130"}, "evidence": {"lot": {"id": "0412-07", "size": 480}, "series": [{"characteristic": '
    b'"breaking_force", "unit": "N", "values": [1487.2, 1531.9, 1460.4, 1502.8, 1549.1, 1478.6, 1515.3, 1493.7, 1440.2, '
    b"1567.5, 1508.4, 1485.9, 1521.6, 1499.1, 1536.8, 1471.3, 1512.7, 1455.6, 1490.5, 1526.4]}]}}"
)
_encode = msgspec.json.Encoder().encode
REFERENCE: Final = "reference"
WARMING, TIMES = 20, 100
"""So often each is done before the first mark, and between two."""


def mark() -> None:
    """Where one count ends and the next begins: callgrind is told to look out for this call, which nothing else here makes."""
    os.getppid()


def works() -> Mapping[str, Callable[[], object]]:
    """What is counted, by name, the reference first."""
    grade = compile_specification(msgspec.json.decode(SPECIFICATION, type=Specification))
    check, lot = Shape(Check), Shape(LotToJudge)
    return {
        REFERENCE: _reference,
        "a reading check": lambda: _checked(grade, decode(CHECK, check)),
        "a lot of 20 readings": lambda: _judged(grade, decode(LOT, lot).evidence),
    }


def _checked(grade: CompiledGrade, check: Check) -> bytes:
    """A check answered as the service answers it."""
    return _encode(judge_reading(grade, check, 1))


def _judged(grade: CompiledGrade, evidence: Evidence) -> bytes:
    """A lot judged as the service judges it."""
    return _encode(judge(grade, evidence, GRADE, 1))


def _reference() -> None:
    """The same mixture as the paths have of msgspec and of plain Python, and none of our code.

    A count depends on how the interpreter was built; the ratio of two counts on the same interpreter far less so.
    """
    document = msgspec.json.decode(LOT)
    values = document["evidence"]["series"][0]["values"]
    scaled = [_scaled(value) for value in values]
    msgspec.json.encode({"lot": document["evidence"]["lot"], "sum": sum(scaled), "outside": [n for n in scaled if n < 0]})


def _scaled(value: float) -> int:
    """A call, a comparison and a product for each value."""
    return 10 * int(value) if value > 1 else -1


def main() -> None:
    """Do each so many times between two marks."""
    found = works()
    for work in found.values():
        for _ in range(WARMING):
            work()
    for work in found.values():
        mark()
        for _ in range(TIMES):
            work()
    mark()


if __name__ == "__main__":
    main()
