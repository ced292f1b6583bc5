"""The headers of answers: those that every answer has, and those that say what it is."""

from service.api.problems import WITHOUT_BODY, Answer

Header = tuple[bytes, bytes]
SECURITY_HEADERS = (
    (b"x-content-type-options", b"nosniff"),
    (
        b"content-security-policy",
        b"default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; base-uri 'none'",
    ),
    (b"referrer-policy", b"no-referrer"),
)
ONLY_ENCRYPTED = (b"strict-transport-security", b"max-age=31536000")
"""Tells a browser to come by https alone, for a year."""


class Heads:
    """Puts headers together; those that answers of one sort share stand ready."""

    def __init__(self, *, is_encrypted: bool) -> None:
        """For a service that speaks TLS, or not."""
        self._always = (*SECURITY_HEADERS, ONLY_ENCRYPTED) if is_encrypted else SECURITY_HEADERS
        self._shared: dict[Header, tuple[Header, ...]] = {}
        """By how long an answer may be kept and of what type it is, of which there are as many as handlers have."""

    def of(self, answer: Answer, request_id: str) -> list[Header]:
        """The headers of an answer."""
        sort = (answer.keep, answer.media_type)
        shared = self._shared.get(sort)
        if shared is None:
            shared = self._shared[sort] = (
                *self._always,
                (b"cache-control", answer.keep),
                (b"content-type", answer.media_type),
            )
        if answer.status in WITHOUT_BODY:
            return [*shared[:-1], (b"x-request-id", request_id.encode()), *answer.headers]
        if answer.stream:
            return [*shared, (b"x-request-id", request_id.encode()), *answer.headers]
        length = b"%d" % len(answer.body)
        return [*shared, (b"x-request-id", request_id.encode()), (b"content-length", length), *answer.headers]
