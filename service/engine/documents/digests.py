"""Digests by which a verdict says what it was judged by, in RFC 8785's canonical form of a JSON document."""

from collections.abc import Iterable, Mapping
from hashlib import sha256
from typing import TYPE_CHECKING, cast

import msgspec
import rfc8785

if TYPE_CHECKING:
    from rfc8785._impl import _Value

PREFIX = "sha256:"
_encode = msgspec.json.Encoder(order="sorted").encode


def canonical(document: object) -> bytes:
    """RFC 8785's form of a JSON document: keys in order, no white space, each number in its one shape; −0 is 0."""
    return rfc8785.dumps(cast("_Value", document))


def canonical_line(members: Mapping[str, object]) -> bytes:
    """The same of an object of texts, booleans, nulls and integers below 2^53 by names in ASCII, in a twentieth of the time.

    msgspec writes texts and such integers as RFC 8785 wants them, which a test holds, and orders such names alike.
    """
    return _encode(members)


def digest_of(content: bytes) -> str:
    """`sha256:` and the hexadecimal digits."""
    return PREFIX + sha256(content).hexdigest()


def digest_of_parts(parts: Iterable[bytes | memoryview]) -> str:
    """The same of all the parts behind each other."""
    digest = sha256()
    for part in parts:
        digest.update(part)
    return PREFIX + digest.hexdigest()
