"""The trace id by which a request is found in the logs of all services it passed: W3C Trace Context, `traceparent`."""

import re
import secrets
from random import Random

_TRACEPARENT = re.compile(r"(?!ff)([0-9a-f]{2})-(?!0{32})([0-9a-f]{32})-(?!0{16})[0-9a-f]{16}-[0-9a-f]{2}(-.*)?", re.DOTALL)
FIRST_VERSION = "00"
ID_BITS = 128
_random = Random(secrets.randbits(ID_BITS)).getrandbits  # noqa: S311  an id is no secret
"""Seeded once by the system's random source, which would take a system call for each id."""


def trace_of(given: str | None) -> str:
    """The trace id of the header `traceparent`, 32 hexadecimal digits, where it is well formed; else a new random one.

    Source: W3C Trace Context, 3.2: lower case, no id of zeros alone, no version ff; version 00 ends after the flags, later
    versions may continue after a dash.
    """
    # A malformed header is ignored, never refused: tracing must not cost a station its answer.
    match = _TRACEPARENT.fullmatch(given) if given else None
    if not match or (match[1] == FIRST_VERSION and match[3] is not None):
        return f"{_random(ID_BITS):032x}"
    return match[2]
