"""What Schemathesis can't write by itself: lines of JSON."""

import json
from typing import Any

import schemathesis


@schemathesis.serializer("application/x-ndjson")
def as_they_are(_: Any, value: Any) -> bytes:
    """Texts as they stand, and anything else as one line."""
    return value.encode("utf-8", "replace") if isinstance(value, str) else json.dumps(value).encode()
