"""The headers of answers: those that every answer has, and those that say what it is."""

from service.api.problems import WITHOUT_BODY, Answer
from service.api.wires import Shared, WholeHead

SECURITY_HEADERS = (
    ("x-content-type-options", "nosniff"),
    (
        "content-security-policy",
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; base-uri 'none'",
    ),
    ("referrer-policy", "no-referrer"),
)
ONLY_ENCRYPTED = ("strict-transport-security", "max-age=31536000")
"""Tells a browser to come by https alone, for a year."""


class Heads:
    """Puts headers together; those that answers of one sort share stand ready."""

    def __init__(self, *, is_encrypted: bool) -> None:
        """For a service that speaks TLS, or not."""
        self._always = (*SECURITY_HEADERS, ONLY_ENCRYPTED) if is_encrypted else SECURITY_HEADERS
        self._shared: dict[tuple[str, str], Shared] = {}
        """By how long an answer may be kept and of what type it is, of which there are as many as handlers have."""

    def of(self, answer: Answer, request_id: str) -> WholeHead:
        """The headers of an answer."""
        media_type = "" if answer.status in WITHOUT_BODY else answer.media_type
        sort = (answer.keep, media_type)
        shared = self._shared.get(sort)
        if shared is None:
            type_ = (("content-type", media_type),) if media_type else ()
            shared = self._shared[sort] = Shared.of((*self._always, ("cache-control", answer.keep), *type_))
        if answer.stream or not media_type:
            return WholeHead(shared, [("x-request-id", request_id), *answer.headers])
        length = str(len(answer.body))
        return WholeHead(shared, [("x-request-id", request_id), ("content-length", length), *answer.headers])
