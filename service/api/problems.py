"""Refusals as problem details (RFC 9457): the only module that knows the status codes of HTTP."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, NamedTuple

from litestar import Request, Response
from litestar.exceptions import HTTPException, MethodNotAllowedException, NotFoundException
from litestar.plugins.problem_details import ProblemDetailsConfig, ProblemDetailsException, ProblemDetailsPlugin
from msgspec import UNSET, Struct, UnsetType

from service.api.exchanges import exchange_of
from service.api.strict.grammar import NotJsonError
from service.engine.documents import Flaw, FlawedDocumentError
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
"""The least statuses of refusals, and of faults of ours."""
MOST_FLAWS = 100
MOST_OF_A_METHOD = 20
Head = Sequence[tuple[str, str]]
"""Header fields of an answer, their names in small letters."""
NO_PATH = (
    "There is no such path. See /openapi.json for those that there are; a grade's code in it has letters, digits, `.`, `_` and "
    "`-`, a letter or a digit first, at most 64."
)


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


class Kind(NamedTuple):
    """A kind of refusal: its status and its title."""

    status: int
    title: str


KINDS: Mapping[str, Kind] = {
    "not-json": Kind(REFUSED, "The body is not JSON"),
    "head-not-clear": Kind(REFUSED, "The head of the request is not clear"),
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
    "internal-error": Kind(FAILED, "The service has failed"),
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
    LotIsAlteredError: "conflict",
    LotHasNoVerdictError: "conflict",
    LotStatedOtherwiseError: "conflict",
    RevisionIsNotNewerError: "conflict",
    ClaimWithoutVerdictError: "conflict",
    ClaimIsSettledError: "conflict",
    ContentDiffersError: "content-differs",
    ConcessionNeededError: "concession-needed",
}
"""The kind of refusal that each error of state is; a test finds the ones that are left out."""
RETRY_AFTER = dict.fromkeys(("not-ready", "too-busy"), (("retry-after", "1"),))


class Refusal(ProblemDetailsException):
    """The answer that refuses a request, with the first 100 flaws; it tells the log by which code, and of what it comes."""

    def __init__(self, kind: str, detail: str, error: Exception, flaws: Sequence[Flaw] = (), headers: Head = ()) -> None:
        """Of a kind, a word of KINDS."""
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
        """The problem document, with the request's id."""
        exchange = exchange_of(request.scope)
        exchange.code, exchange.error = self.code, self.error
        self.instance = f"urn:uuid:{exchange.request_id}"
        return super().to_response(request)


class MethodRefusal(Refusal):
    """The path does not take this method; which it takes, Litestar has told for one handler of each."""

    def __init__(self, error: MethodNotAllowedException) -> None:
        """As Litestar has found it out."""
        named = {name.lower(): text for name, text in (error.headers or {}).items()}.get("allow", "")
        self.may = allowed(named.split(", ") if named else ())
        super().__init__("method-not-allowed", "", error, headers=(("allow", self.may),))

    def to_response(self, request: Request[Any, Any, Any]) -> Response[dict[str, Any]]:
        """By the method as it was sent."""
        method = exchange_of(request.scope).method[:MOST_OF_A_METHOD]
        self.detail = f"{method} can't be used here. Use {self.may}."
        return super().to_response(request)


def problem_details() -> ProblemDetailsPlugin:
    """Litestar's plugin, told what each error of ours is to a caller."""
    mapped: dict[type[Any], Callable[[Any], Refusal]] = {
        RefusalError: refusal,
        NotJsonError: _not_json,
        FlawedDocumentError: _flawed,
        StateError: _of_state,
        HTTPException: _of_litestar,
        Exception: _failed,
    }
    return ProblemDetailsPlugin(ProblemDetailsConfig(exception_to_problem_detail_map=mapped))


def refusal(error: RefusalError) -> Refusal:
    """What it is to a caller."""
    return Refusal(error.kind, error.detail, error, headers=error.headers)


def _not_json(error: NotJsonError) -> Refusal:
    return Refusal("not-json", _first(error.flaws), error, error.flaws)


def _flawed(error: FlawedDocumentError) -> Refusal:
    return Refusal("flawed", _first(error.flaws), error, error.flaws)


def _of_state(error: StateError) -> Refusal:
    kind = OF_STATE[type(error)]
    flaws = error.flaws if isinstance(error, ContentDiffersError | ConcessionNeededError) else ()
    return Refusal(kind, str(error), error, flaws, RETRY_AFTER.get(kind, ()))


def _of_litestar(error: HTTPException) -> Refusal:
    """What Litestar itself refuses: a path that is not there, a method that it does not take; all else is a fault of ours."""
    if isinstance(error, MethodNotAllowedException):
        return MethodRefusal(error)
    if isinstance(error, NotFoundException):
        return Refusal("not-found", NO_PATH, error)
    return _failed(error)


def _failed(error: Exception) -> Refusal:
    """Something went wrong that is no fault of the caller's."""
    text = "Something went wrong here. Try again; if it stays so, give the request's id to whoever runs the service."
    return Refusal("internal-error", text, error)


def allowed(methods: Iterable[str]) -> str:
    """The methods of a path as the header Allow lists them; HEAD goes with GET, and OPTIONS always."""
    names = {*methods, "OPTIONS"}
    return ", ".join(sorted(names | ({"HEAD"} if "GET" in names else set())))


def _first(flaws: Sequence[Flaw]) -> str:
    """The first flaw's sentence, and how many more there are."""
    if len(flaws) == 1:
        return flaws[0].text
    others = len(flaws) - 1
    return f"{flaws[0].text} There {'is 1 flaw' if others == 1 else f'are {others} flaws'} more."
