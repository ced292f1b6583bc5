"""What an answer's body says, by its type, so that it can be compared with the schema of that type."""

import json


def documents_in(media_type: str, body: bytes) -> list[object]:
    """The documents of a body: one, a line each where it is NDJSON, or the text itself."""
    if media_type.endswith("ndjson"):
        return [json.loads(line) for line in body.splitlines()]
    return [json.loads(body) if media_type.endswith("json") else body.decode()]
