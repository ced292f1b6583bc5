"""Entity tags (RFC 9110, 8.8.3): a specification's is its digest."""

import re

_TAG = re.compile(rb'(W/)?"([^"]*)"')


def etag(digest: str) -> bytes:
    """The strong tag of a document with this digest."""
    return b'"%s"' % digest.encode()


def expected_by(if_match: bytes | None) -> frozenset[str] | None:
    """The digests of which If-Match wants one; None where any will do. A weak tag matches nothing, as RFC 9110, 13.1.1 says."""
    if if_match is None or if_match.strip() == b"*":
        return None
    return frozenset(tag.decode("latin-1") for weak, tag in _TAG.findall(if_match) if not weak)


def is_among(digest: str, if_none_match: bytes | None) -> bool:
    """Whether the caller holds this document already; weak tags count, as RFC 9110, 13.1.2 says."""
    if if_none_match is None:
        return False
    return if_none_match.strip() == b"*" or digest in {tag.decode("latin-1") for _, tag in _TAG.findall(if_none_match)}
