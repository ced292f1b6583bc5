"""Refusals as problem details (RFC 9457): the only module that knows the status codes of HTTP."""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import msgspec
from msgspec import UNSET, Struct, UnsetType

from service.api.grammar import NotJsonError
from service.api.streaming import Stream
from service.api.wires import Head
from service.engine.flaws import Flaw, FlawedDocumentError
from service.ports import (
    CatalogueAwayError,
    ChangeUnknownError,
    ClaimIsSettledError,
    ClaimWithoutVerdictError,
    ConcessionNeededError,
    ContentDiffersError,
    GradeUnknownError,
    InstrumentUnknownError,
    KeyUnknownError,
    LotHasNoVerdictError,
    LotIsClosedError,
    LotToldOtherwiseError,
    LotUnknownError,
    NoneInForceError,
    PreconditionMissingError,
    RevisionIsDraftError,
    RevisionIsNotNewerError,
    RevisionIsReleasedError,
    RevisionIsWithdrawnError,
    RevisionUnknownError,
    SecondPersonNeededError,
    SpecificationHasChangedError,
    StateError,
    TooManyKeysError,
    TrendUnknownError,
    VerdictUnknownError,
    WorkersAwayError,
    WorkersBusyError,
)

OK, CREATED, NOTHING_TO_SAY, NOT_MODIFIED, TOO_LARGE, AWAY = 200, 201, 204, 304, 413, 503
WITHOUT_BODY = (NOTHING_TO_SAY, NOT_MODIFIED)
MOST_FLAWS = 100
JSON, PROBLEM, PLAIN = "application/json", "application/problem+json", "text/plain; charset=utf-8"
HTML, CSS, SCRIPT = "text/html; charset=utf-8", "text/css; charset=utf-8", "text/javascript; charset=utf-8"
SVG, NDJSON = "image/svg+xml", "application/x-ndjson"


class Problem(Struct, frozen=True):
    """Why a request was refused, for a program and for a person."""

    type: str
    """A stable relative URI, `/problems/` and a word."""
    title: str
    status: int
    detail: str
    instance: str
    """`urn:uuid:` and the id of the request, as in the header X-Request-Id."""
    flaws: list[Flaw] | UnsetType = UNSET
    """At most 100, in the order of the document."""
    more_flaws: int | UnsetType = UNSET
    """How many more were found."""


class Answer(Struct, frozen=True):
    """What goes back: a status, the bytes, what they are, further headers, and how long it may be kept."""

    status: int
    body: bytes = b""
    media_type: str = JSON
    headers: Head = ()
    keep: str = "no-store"
    code: str = ""
    """Of a refusal: that of its first flaw, or the kind of problem."""
    stream: Stream | None = None
    """In place of a body, where it comes a line at a time."""


class Kind(NamedTuple):
    """A kind of refusal: its status and its title."""

    status: int
    title: str


KINDS: Mapping[str, Kind] = {
    "not-json": Kind(400, "The body is not JSON"),
    "key-missing": Kind(401, "A key is needed"),
    "key-not-known": Kind(401, "The key is not good"),
    "scope-lacking": Kind(403, "The key is not good for this"),
    "second-person-needed": Kind(403, "Another person has to do it"),
    "not-found": Kind(404, "There is nothing here"),
    "method-not-allowed": Kind(405, "The path does not take this method"),
    "body-not-in-time": Kind(408, "The body did not come in time"),
    "too-many-keys": Kind(409, "There are too many keys"),
    "conflict": Kind(409, "The state of what is there does not allow it"),
    "concession-needed": Kind(409, "It takes a concession"),
    "content-differs": Kind(409, "Something else was sent under this id before"),
    "specification-changed": Kind(412, "The specification is not the one that was read"),
    "body-too-large": Kind(TOO_LARGE, "The body is too large"),
    "not-json-by-type": Kind(415, "The body is not sent as plain JSON"),
    "wrong-host": Kind(421, "The request is for another host"),
    "flawed": Kind(422, "The request has flaws"),
    "precondition-missing": Kind(428, "The header If-Match is missing"),
    "too-many-requests": Kind(429, "The caller has sent too many requests"),
    "internal-error": Kind(500, "The service has failed"),
    "not-ready": Kind(AWAY, "The service can't answer just now"),
    "too-busy": Kind(AWAY, "The service has too much to answer at a time"),
}
"""Every kind of refusal by the word in its `type`."""


class RefusalError(Exception):
    """A request is refused before a use case sees it."""

    def __init__(self, kind: str, detail: str, headers: Head = ()) -> None:
        """Keep the kind, a word of KINDS, the sentence, and headers that go with it."""
        super().__init__(detail)
        self.kind, self.detail, self.headers = kind, detail, headers


def problem(kind: str, detail: str, request_id: str, flaws: Sequence[Flaw] = (), headers: Head = ()) -> Answer:
    """The answer that refuses a request, with the first 100 flaws."""
    status, title = KINDS[kind]
    document = Problem(
        type=f"/problems/{kind}",
        title=title,
        status=status,
        detail=detail,
        instance=f"urn:uuid:{request_id}",
        flaws=list(flaws[:MOST_FLAWS]) if flaws else UNSET,
        more_flaws=len(flaws) - MOST_FLAWS if len(flaws) > MOST_FLAWS else UNSET,
    )
    return Answer(status, msgspec.json.encode(document), PROBLEM, headers, code=flaws[0].code if flaws else kind)


OF_STATE: Mapping[type[StateError], str] = {
    GradeUnknownError: "not-found",
    RevisionUnknownError: "not-found",
    NoneInForceError: "not-found",
    RevisionIsReleasedError: "conflict",
    RevisionIsDraftError: "conflict",
    RevisionIsWithdrawnError: "conflict",
    SecondPersonNeededError: "second-person-needed",
    SpecificationHasChangedError: "specification-changed",
    PreconditionMissingError: "precondition-missing",
    KeyUnknownError: "not-found",
    TooManyKeysError: "too-many-keys",
    CatalogueAwayError: "not-ready",
    WorkersAwayError: "not-ready",
    WorkersBusyError: "too-busy",
    LotUnknownError: "not-found",
    ChangeUnknownError: "not-found",
    VerdictUnknownError: "not-found",
    TrendUnknownError: "not-found",
    InstrumentUnknownError: "not-found",
    LotIsClosedError: "conflict",
    LotHasNoVerdictError: "conflict",
    LotToldOtherwiseError: "conflict",
    RevisionIsNotNewerError: "conflict",
    ClaimWithoutVerdictError: "conflict",
    ClaimIsSettledError: "conflict",
    ContentDiffersError: "content-differs",
    ConcessionNeededError: "concession-needed",
}
"""The kind of refusal that each error of state is; a test finds the ones that are left out."""
RETRY_AFTER = dict.fromkeys(("not-ready", "too-busy"), (("retry-after", "1"),))


def refusal_of(error: Exception, request_id: str) -> Answer | None:
    """The answer to an error that a request has run into; None for one that is a fault of ours."""
    match error:
        case RefusalError():
            return problem(error.kind, error.detail, request_id, headers=error.headers)
        case NotJsonError():
            return problem("not-json", _first(error.flaws), request_id, error.flaws)
        case FlawedDocumentError():
            return problem("flawed", _first(error.flaws), request_id, error.flaws)
        case ContentDiffersError() | ConcessionNeededError():
            return problem(OF_STATE[type(error)], str(error), request_id, error.flaws)
        case StateError():
            kind = OF_STATE[type(error)]
            return problem(kind, str(error), request_id, headers=RETRY_AFTER.get(kind, ()))
    return None


def _first(flaws: Sequence[Flaw]) -> str:
    """The first flaw's sentence, and how many more there are."""
    if len(flaws) == 1:
        return flaws[0].text
    others = len(flaws) - 1
    return f"{flaws[0].text} There {'is 1 flaw' if others == 1 else f'are {others} flaws'} more."
