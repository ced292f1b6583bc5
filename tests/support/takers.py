"""Every operation that takes a body, with good ones that the contract shows, and what has to be there before."""

import json
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from tests.support import examples
from tests.support.applications import the_document

NAMES: Mapping[str, str] = {
    "grade": examples.GRADE,
    "revision": "1",
    "lot": examples.LOT,
    "batch": examples.BATCH,
    "claim": examples.CLAIM_NAME,
    "concession": examples.CONCESSION_NAME,
    "instrument": examples.INSTRUMENT,
    "key": examples.KEY,
    "line": examples.LINE,
}
"""What stands in paths."""
ROWS = "?batch=R1"
REVISIONS = f"/v1/grades/{examples.GRADE}/revisions"
LOT = f"/v1/lots/{examples.LOT}"


class Taker(NamedTuple):
    """An operation, where it is, and bodies of one media type that it takes."""

    operation: str
    method: str
    path: str
    media_type: str
    bodies: Sequence[bytes]

    @property
    def is_json(self) -> bool:
        """False for rows."""
        return self.media_type == "application/json"


def takers() -> Iterator[Taker]:
    """All of them, in the order of the contract; one that takes several media types stands there for each."""
    for path, operations in the_document()["paths"].items():
        for method, operation in operations.items():
            content = operation.get("requestBody", {}).get("content", {}) if isinstance(operation, dict) else {}
            for media_type, shown in content.items():
                values = [each["value"] for each in shown["examples"].values()]
                bodies = [each.encode() if isinstance(each, str) else json.dumps(each).encode() for each in values]
                query = "" if media_type == "application/json" else ROWS
                yield Taker(operation["operationId"], method.upper(), path.format(**NAMES) + query, media_type, bodies)


BEFORE: Sequence[tuple[str, str, Any]] = (
    ("POST", REVISIONS, examples.SPECIFICATION),
    ("POST", f"{REVISIONS}/1/release", {}),
    ("PUT", f"/v1/instruments/{examples.INSTRUMENT}", examples.TESTER),
    ("PUT", LOT, examples.OPENING),
    ("POST", f"{LOT}/readings", examples.READINGS),
)
"""What has to be there: method, path, body."""
