"""What a route is, and which route a request is for."""

import re
from collections.abc import Awaitable, Callable, Iterable, Mapping, Sequence
from typing import Any, NamedTuple

from msgspec import Struct

from service.api.problems import JSON, NOTHING_TO_SAY, Answer, RefusalError
from service.api.requests import Parameter, Request
from service.ports import Scope

Handler = Callable[[Request, Any], Awaitable[Answer]]
Methods = Mapping[str, "Route"]
PLACEHOLDERS: Mapping[str, str] = {
    "grade": r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}",
    "revision": r"[1-9][0-9]{0,8}",
    "key": r"mky_[0-9a-f]{8}",
    "lot": r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}",
    "characteristic": r"[A-Za-z][A-Za-z0-9._-]{0,62}",
    "batch": r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}",
    "verdict": r"[1-9][0-9]{0,8}",
    "claim": r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}",
    "concession": r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}",
    "instrument": r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}",
    "line": r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}",
    "file": r"[a-z-]+\.[a-z]+",
}
"""What may stand in a path where it says {NAME}."""


class Example(Struct, frozen=True):
    """A document to show, under a name of its own."""

    name: str
    document: Any


class Body(Struct, frozen=True):
    """What a route takes in its body."""

    of: Any
    examples: Sequence[Example]
    any_json: bool = False
    """True where any JSON is taken and flaws of shape are part of the answer."""
    texts: Mapping[str, str] = {}
    """Further media types that are taken, each with an example."""


class Reply(Struct, frozen=True):
    """One of the answers that are no refusals."""

    status: int
    description: str
    of: Any = None
    """The type of its document; None where it has no JSON."""
    examples: Sequence[Example] = ()
    media_type: str = JSON
    headers: Sequence[str] = ()
    """Names of headers in the OpenAPI document's components."""
    links: Sequence[str] = ()
    """Names of links in the OpenAPI document's components."""


class Route(Struct, frozen=True, kw_only=True):
    """One operation: where it is reached, what it takes and answers, and the handler that does it."""

    method: str
    path: str
    operation_id: str
    tag: str
    summary: str
    description: str
    handler: Handler
    replies: Sequence[Reply]
    scope: Scope | None
    """What a caller has to be allowed; None where anyone may ask."""
    body: Body | None = None
    parameters: Sequence[Parameter] = ()
    headers: Sequence[str] = ()
    """Names of header parameters in the OpenAPI document's components."""
    refusals: Sequence[str] = ()
    """Kinds of problem besides those that every route of its sort has."""
    makes_grade: bool = False
    """True where the grade in the path need not be there yet."""
    is_strict: bool = True
    """False for pages, where a query that nobody reads does no harm."""
    in_document: bool = True
    is_only_counted: bool = False
    """True where an answer that is no refusal leaves no line in the log."""

    @property
    def is_always_open(self) -> bool:
        """True where one sees how the service is doing, most of all when it has much to do."""
        return self.tag == "service"

    @property
    def takes_body(self) -> bool:
        """True where a body is read."""
        return self.body is not None

    def takes(self, media_type: str) -> bool:
        """True where a body of this further media type is taken; what stands behind it is not looked at."""
        return self.body is not None and media_type.partition(";")[0].strip().lower() in self.body.texts


class _Place:
    """A place on the way along a path."""

    def __init__(self) -> None:
        """Nothing is here, nor beyond."""
        self.methods: Methods | None = None
        self.fixed: dict[str, _Place] = {}
        """The next places by the words of a path."""
        self.named: _Named | None = None
        """The next place under whatever name it goes by."""

    def beyond(self, part: str) -> "_Place":
        """The next place for a part of a route's path, made where it was not there."""
        if not part.startswith("{"):
            return self.fixed.setdefault(part, _Place())
        name = part.strip("{}")
        self.named = self.named or _Named(name, re.compile(PLACEHOLDERS[name]), _Place())
        if self.named.name != name:
            raise ValueError(f"`{name}` and `{self.named.name}` stand at one place of a path.")
        return self.named.place


class _Named(NamedTuple):
    name: str
    pattern: re.Pattern[str]
    place: _Place


class Router:
    """Finds what can be done at a path."""

    def __init__(self, routes: Iterable[Route]) -> None:
        """Sort the routes by path."""
        self.by_path: dict[str, dict[str, Route]] = {}
        for route in routes:
            self.by_path.setdefault(route.path, {})[route.method] = route
        for path, methods in self.by_path.items():
            methods["OPTIONS"] = _options(path, allowed(methods))
        self.fixed: Mapping[str, Methods] = {path: methods for path, methods in self.by_path.items() if "{" not in path}
        """The routes by method at each path that names nothing."""
        self._root = _Place()
        for path, methods in self.by_path.items():
            place = self._root
            for part in path.split("/"):
                place = place.beyond(part)
            place.methods = methods

    def find(self, path: str) -> tuple[Methods, Mapping[str, str]] | None:
        """The routes at a path by method, and what it names; None where there is no such path."""
        place, names = self._root, dict[str, str]()
        for part in path.split("/"):
            found = place.fixed.get(part)
            if found is None:
                named = place.named
                if named is None or not named.pattern.fullmatch(part):
                    return None
                names[named.name], found = part, named.place
            place = found
        return (place.methods, names) if place.methods else None

    def refusal(self, methods: Methods, method: str) -> RefusalError:
        """The path does not take this method."""
        may = allowed(methods)
        return RefusalError("method-not-allowed", f"{method[:20]} can't be used here. Use {may}.", (("allow", may),))


def allowed(methods: Iterable[str]) -> str:
    """The methods of a path as the header Allow lists them; HEAD goes with GET, and OPTIONS always."""
    names = {*methods, "OPTIONS"} | ({"HEAD"} if "GET" in methods else set())
    return ", ".join(sorted(names))


def _options(path: str, may: str) -> Route:
    """The route that tells what a path takes."""
    answer = Answer(NOTHING_TO_SAY, headers=(("allow", may),))

    async def tell(request: Request, use: object) -> Answer:
        return answer

    reply = Reply(NOTHING_TO_SAY, "The methods are in the header Allow.", headers=("Allow",))
    return Route(
        method="OPTIONS",
        path=path,
        operation_id="options",
        tag="service",
        summary="What a path takes",
        description="The methods that the path takes, in the header Allow.",
        handler=tell,
        replies=[reply],
        scope=None,
        is_strict=False,
        in_document=False,
    )


async def _nothing(request: Request, use: object) -> Answer:
    return Answer(NOTHING_TO_SAY)


NOWHERE = Route(
    method="",
    path="",
    operation_id="none",
    tag="service",
    summary="No route",
    description="What is asked where there is nothing, or under another host's name, is counted under this.",
    handler=_nothing,
    replies=[],
    scope=None,
    in_document=False,
)
