"""What the load asks: one invented grade and a reading that passes by it."""

import json

from tests.faults.talking import request
from tests.support.commands import SPECIFICATION
from tests.support.services import ask

GRADE = "TB-130"
READING = {"grade": GRADE, "characteristic": "breaking_force", "unit": "N", "value": 1432.5}
CHECK = request("POST", "/v1/checks", json.dumps(READING).encode())


def draft(number: int) -> bytes:
    """The request that brings in a draft; each number's is another, as the same one twice is kept once."""
    document = {**SPECIFICATION, "title": f"Invented figures {number}"}
    return request("POST", f"/v1/grades/{GRADE}/revisions", json.dumps(document).encode())


def drafted(address: str, least: float) -> int:
    """The number of a new draft that asks for a mean of at least so many newtons."""
    requirement = {**SPECIFICATION["requirements"][0], "limits": {"lower": least}}
    answer = ask(address, "POST", f"/v1/grades/{GRADE}/revisions", {**SPECIFICATION, "requirements": [requirement]})
    assert 201 == answer.status, answer.body
    number: int = answer.document["revision"]
    return number
