"""Refusals as problem details (RFC 9457); the only module that knows HTTP status codes."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, NamedTuple

from litestar import Request, Response
from litestar.exceptions import HTTPException, MethodNotAllowedException, NotFoundException
from litestar.plugins.problem_details import ProblemDetailsConfig, ProblemDetailsException, ProblemDetailsPlugin
from msgspec import UNSET, Struct, UnsetType

from service.api.exchanges import exchange_of
from service.api.strict.grammar import NotJsonError, printable
from service.engine.documents import Flaw, FlawedDocumentError, quoted
from service.ports.catalogue import (
    CatalogueAwayError,
    GradeUnknownError,
    KeyUnknownError,
    NoneInForceError,
    PreconditionMissingError,
    RevisionIsDraftError,
    RevisionIsReleasedError,
    RevisionIsWithdrawnError,
    RevisionUnknownError,
    SecondPersonNeededError,
    SpecificationHasChangedError,
    StateError,
    TooManyKeysError,
)
from service.ports.closed_lots import TrendUnknownError
from service.ports.instruments import InstrumentUnknownError
from service.ports.ledger import (
    ChangeUnknownError,
    ClaimIsSettledError,
    ClaimWithoutVerdictError,
    ConcessionNeededError,
    ContentDiffersError,
    LotHasNoVerdictError,
    LotIsAlteredError,
    LotIsClosedError,
    LotStatedOtherwiseError,
    LotUnknownError,
    RevisionIsNotNewerError,
    VerdictUnknownError,
)
from service.ports.workers import WorkersAwayError, WorkersBusyError

OK, CREATED, NOT_MODIFIED, TOO_LARGE, AWAY = 200, 201, 304, 413, 503
REFUSED, FAILED = 400, 500
"""The lowest status of a refusal, and of a failure of the service itself."""
MOST_FLAWS = 100
LONGEST_METHOD = 20
HeaderFields = Sequence[tuple[str, str]]
"""Header fields of an answer, with lower-case names."""
MANY_SLASHES = "The path has `//` in it or `/` at its end. Write it without."
NAMED_IN_PATHS: Mapping[str, str] = {
    "/v1/lots/": "A lot's name",
    "/v1/grades/": "A grade's code",
    "/v1/instruments/": "An instrument's name",
}
"""By the beginning of a path: whose name comes next, which often has a slash in a mill's own books."""
OPENED_OTHERWISE: Mapping[str, str] = {
    "/v1/lots": "To open a lot, send `PUT /v1/lots/{lot}`.",
    "/v1/instruments": "To register an instrument, send `PUT /v1/instruments/{instrument}`.",
    "/v1/grades": "To add a grade, send `POST /v1/grades/{grade}/revisions`.",
}
"""By the path of a list: how something comes into it, as callers try POST there."""


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
    """The number of flaws beyond the first 100."""


class Kind(NamedTuple):
    """A kind of refusal: its status and its title."""

    status: int
    title: str


KINDS: Mapping[str, Kind] = {
    "not-json": Kind(REFUSED, "The body is not JSON"),
    "head-not-clear": Kind(REFUSED, "The headers of the request can be read in two ways"),
    "key-missing": Kind(401, "A key is needed"),
    "key-not-known": Kind(401, "The key is not accepted"),
    "scope-lacking": Kind(403, "The key does not allow this"),
    "second-person-needed": Kind(403, "Another person must do it"),
    "not-found": Kind(404, "Not found"),
    "method-not-allowed": Kind(405, "The path does not take this method"),
    "body-not-in-time": Kind(408, "The body did not arrive in time"),
    "too-many-keys": Kind(409, "There are too many keys"),
    "conflict": Kind(409, "The present state does not allow it"),
    "concession-needed": Kind(409, "A concession is needed"),
    "content-differs": Kind(409, "This id was used before, with other content"),
    "specification-changed": Kind(412, "The specification has changed since it was read"),
    "body-too-large": Kind(TOO_LARGE, "The body is too large"),
    "not-json-by-type": Kind(415, "The body is not sent as plain JSON"),
    "wrong-host": Kind(421, "The request is for another host"),
    "flawed": Kind(422, "The request has flaws"),
    "precondition-missing": Kind(428, "The header If-Match is missing"),
    "too-many-requests": Kind(429, "Too many requests were sent"),
    "internal-error": Kind(FAILED, "The service has failed"),
    "not-ready": Kind(AWAY, "The service can't answer now"),
    "too-busy": Kind(AWAY, "The service is too busy"),
}
"""Every kind of refusal by the word in its `type`: clients branch on it, so an entry is never renamed."""


class RefusalError(Exception):
    """A request is refused before any use case is called."""

    def __init__(self, kind: str, detail: str, headers: HeaderFields = ()) -> None:
        """Store the kind (a key of KINDS), the sentence for the caller, and header fields for the answer."""
        super().__init__(detail)
        self.kind, self.detail, self.headers = kind, detail, headers


KIND_BY_STATE_ERROR: Mapping[type[StateError], str] = {
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
    LotIsAlteredError: "conflict",
    LotHasNoVerdictError: "conflict",
    LotStatedOtherwiseError: "conflict",
    RevisionIsNotNewerError: "conflict",
    ClaimWithoutVerdictError: "conflict",
    ClaimIsSettledError: "conflict",
    ContentDiffersError: "content-differs",
    ConcessionNeededError: "concession-needed",
}
"""The kind of refusal for each StateError; a test fails where a subclass is missing."""
# Both pass without the caller doing anything, so a client may repeat the same request.
RETRY_AFTER = dict.fromkeys(("not-ready", "too-busy"), (("retry-after", "1"),))


class Refusal(ProblemDetailsException):
    """The answer that refuses a request, with the first 100 flaws; it also hands code and error to the log."""

    def __init__(
        self, kind: str, detail: str, error: Exception, flaws: Sequence[Flaw] = (), headers: HeaderFields = ()
    ) -> None:
        """Build a refusal of a kind (a key of KINDS); `error` is the exception that caused it, for the log."""
        status, title = KINDS[kind]
        extra: dict[str, Any] = {"flaws": list(flaws[:MOST_FLAWS])} if flaws else {}
        if len(flaws) > MOST_FLAWS:
            extra["more_flaws"] = len(flaws) - MOST_FLAWS
        super().__init__(
            detail=detail, status_code=status, title=title, type_=f"/problems/{kind}", extra=extra, headers=dict(headers)
        )
        self.code = flaws[0].code if flaws else kind
        self.error = error

    def to_response(self, request: Request[Any, Any, Any]) -> Response[dict[str, Any]]:
        """The problem document, with the id of the request as `instance`."""
        exchange = exchange_of(request.scope)
        exchange.code, exchange.error = self.code, self.error
        self.instance = f"urn:uuid:{exchange.request_id}"
        return super().to_response(request)


class MethodRefusal(Refusal):
    """405: the path does not take this method; Litestar's error lists the methods that it takes."""

    def __init__(self, error: MethodNotAllowedException) -> None:
        """Read the methods from the header Allow of Litestar's error, and complete them with HEAD and OPTIONS."""
        allow = {name.lower(): text for name, text in (error.headers or {}).items()}.get("allow", "")
        self.allowed = allow_header(allow.split(", ") if allow else ())
        super().__init__("method-not-allowed", "", error, headers=(("allow", self.allowed),))

    def to_response(self, request: Request[Any, Any, Any]) -> Response[dict[str, Any]]:
        """The problem document, which names the method as it was sent."""
        # The scope says GET where HEAD was sent (`Application.__call__`), and a method of any length can be sent.
        method, path = exchange_of(request.scope).method[:LONGEST_METHOD], request.scope["path"]
        remedy = OPENED_OTHERWISE.get(path, f"Use {self.allowed}.")
        self.detail = f"{method} can't be used on {quoted(printable(path))}. {remedy}"
        return super().to_response(request)


class PathRefusal(Refusal):
    """404: no route has this path."""

    def __init__(self, error: NotFoundException) -> None:
        """Create the refusal; its detail follows from the path of the request."""
        super().__init__("not-found", "", error)

    def to_response(self, request: Request[Any, Any, Any]) -> Response[dict[str, Any]]:
        """The problem document, which names the path as it was sent."""
        path = request.scope["path"]
        whose = next((name for start, name in NAMED_IN_PATHS.items() if path.startswith(start)), None)
        text = f"There is no path {quoted(printable(path))}."
        # `%2F` arrives here as a slash too, as servers decode the path.
        self.detail = f"{text} {whose} may not have `/`. See /docs for the paths." if whose else f"{text} See /docs."
        return super().to_response(request)


def problem_details() -> ProblemDetailsPlugin:
    """Litestar's plugin for problem details, with the refusal for each exception class of this service."""
    mapped: dict[type[Any], Callable[[Any], Refusal]] = {
        # Litestar takes the first match along an exception's bases, so a class here covers its subclasses too.
        RefusalError: refusal_of,
        NotJsonError: _not_json,
        FlawedDocumentError: _flawed,
        StateError: _refused_by_state,
        HTTPException: _refused_by_litestar,
        Exception: _failed,
    }
    return ProblemDetailsPlugin(ProblemDetailsConfig(exception_to_problem_detail_map=mapped))


def refusal_of(error: RefusalError) -> Refusal:
    """The refusal that a RefusalError is answered by."""
    return Refusal(error.kind, error.detail, error, headers=error.headers)


def _not_json(error: NotJsonError) -> Refusal:
    return Refusal("not-json", _summary(error.flaws), error, error.flaws)


def _flawed(error: FlawedDocumentError) -> Refusal:
    return Refusal("flawed", _summary(error.flaws), error, error.flaws)


def _refused_by_state(error: StateError) -> Refusal:
    kind = KIND_BY_STATE_ERROR[type(error)]
    flaws = error.flaws if isinstance(error, ContentDiffersError | ConcessionNeededError) else ()
    return Refusal(kind, str(error), error, flaws, RETRY_AFTER.get(kind, ()))


def _refused_by_litestar(error: HTTPException) -> Refusal:
    """The refusal for an error that Litestar raised: unknown path, wrong method; anything else is a failure of the service."""
    if isinstance(error, MethodNotAllowedException):
        return MethodRefusal(error)
    if isinstance(error, NotFoundException):
        return PathRefusal(error)
    return _failed(error)


def _failed(error: Exception) -> Refusal:
    """500: an error that the caller did not cause; the answer shows nothing of it, the log does."""
    text = "The service has failed. Try again; if it fails again, give the request's id to the operator of the service."
    return Refusal("internal-error", text, error)


def allow_header(methods: Iterable[str]) -> str:
    """The value of the header Allow for these methods: sorted, with OPTIONS always and HEAD wherever GET is."""
    names = {*methods, "OPTIONS"}
    return ", ".join(sorted(names | ({"HEAD"} if "GET" in names else set())))


def _summary(flaws: Sequence[Flaw]) -> str:
    """The text of the first flaw and the number of others: the `detail` of a refusal with flaws."""
    if len(flaws) == 1:
        return flaws[0].text
    others = len(flaws) - 1
    return f"{flaws[0].text} There {'is 1 more flaw' if others == 1 else f'are {others} more flaws'}."
