"""Entity tags (RFC 9110, 8.8.3): that of a specification is its digest."""

import re

_TAG = re.compile(r'(W/)?"([^"]*)"')


def etag(digest: str) -> str:
    """The strong tag of a document with this digest."""
    return f'"{digest}"'


def expected_digests(if_match: str | None) -> frozenset[str] | None:
    """The digests that If-Match accepts; None where any is accepted. Weak tags match nothing (RFC 9110, 13.1.1)."""
    if if_match is None or if_match.strip() == "*":
        return None
    return frozenset(tag for weak, tag in _TAG.findall(if_match) if not weak)


def is_held_by_caller(digest: str, if_none_match: str | None) -> bool:
    """Whether If-None-Match names this document; weak tags match too (RFC 9110, 13.1.2)."""
    if if_none_match is None:
        return False
    return if_none_match.strip() == "*" or digest in {tag for _, tag in _TAG.findall(if_none_match)}
