"""SHA-256 digests that identify documents in a verdict, taken of their canonical JSON form (RFC 8785)."""

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
    """The RFC 8785 form of a JSON document in UTF-8: keys sorted, no white space, one spelling a number; −0 is 0."""
    return rfc8785.dumps(cast("_Value", document))


def canonical_line(members: Mapping[str, object]) -> bytes:
    """The RFC 8785 form of a JSON object whose values msgspec spells the same way, in a twentieth of the time of `canonical`.

    members  names in ASCII; values are texts, booleans, nulls and integers of a magnitude below 2^53
    """
    # Floats are left out since RFC 8785 spells them as ECMAScript does, and other names since it sorts them by UTF-16 units.
    # tests/engine/documents/test_digests.py compares both functions.
    return _encode(members)


def digest_of(content: bytes) -> str:
    """`sha256:` and the 64 hexadecimal digits of the content's digest."""
    return PREFIX + sha256(content).hexdigest()


def digest_of_parts(parts: Iterable[bytes | memoryview]) -> str:
    """The digest of the parts joined in this order; equal to `digest_of` of all of them at once."""
    digest = sha256()
    for part in parts:
        digest.update(part)
    return PREFIX + digest.hexdigest()
