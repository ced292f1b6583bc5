"""The id under which a request is found in the logs of all services that it went through: W3C Trace Context, `traceparent`."""

import re
import secrets
from collections.abc import Mapping

_TRACEPARENT = re.compile(rb"(?!ff)([0-9a-f]{2})-(?!0{32})([0-9a-f]{32})-(?!0{16})[0-9a-f]{16}-[0-9a-f]{2}(-.*)?", re.DOTALL)
FIRST_VERSION = b"00"
ID_BYTES = 16


def trace_of(headers: Mapping[bytes, bytes]) -> str:
    """The caller's trace id, 32 hexadecimal digits, where it is well formed; one of our own otherwise.

    Source: W3C Trace Context, 3.2: small letters, no id of zeros alone, no version ff; version 00 ends after the flags, and
    later ones may go on after a dash.
    """
    match = _TRACEPARENT.fullmatch(headers.get(b"traceparent", b""))
    if not match or (match[1] == FIRST_VERSION and match[3] is not None):
        return secrets.token_hex(ID_BYTES)
    return match[2].decode()
