"""What is no resource of the trade: the OpenAPI document, its page, health, figures."""

from collections.abc import Awaitable, Callable
from functools import cache
from importlib.resources import files

from litestar import Controller, Response
from litestar.di import NamedDependency
from msgspec import Struct
from prometheus_client import CollectorRegistry, generate_latest

from service.api.answers import PUBLIC_FOR_A_DAY
from service.api.bodies.receiving import StrictRequest
from service.api.document.document import written
from service.api.handlers import get
from service.api.operations import JSON, documented
from service.api.pages import operations
from service.api.pages.documents import Health
from service.api.parameters import FileName
from service.api.problems import AWAY, OK, RefusalError

MEDIA_TYPES = {
    "html": "text/html; charset=utf-8",
    "css": "text/css; charset=utf-8",
    "js": "text/javascript; charset=utf-8",
    "txt": "text/plain; charset=utf-8",
}
PAGE = "index.html"
FIGURES = "text/plain; version=0.0.4; charset=utf-8"


class Watched(Struct, frozen=True):
    """What there is to be seen of the service itself."""

    registry: CollectorRegistry
    reasons_not_ready: Callable[[], Awaitable[list[str]]]
    """Why requests can't be answered now; [] where they can."""


class PageController(Controller):
    """The service itself."""

    path = "/"

    @get("/health/live", **documented(operations.SHOW_LIVE))
    async def show_live(self) -> Health:
        """The process answers."""
        return Health(ready=True, reasons=[])

    @get("/health/ready", **documented(operations.SHOW_READY))
    async def show_ready(self, watched: NamedDependency[Watched]) -> Response[Health]:
        """Whether requests can be answered, and why not."""
        reasons = await watched.reasons_not_ready()
        return Response(Health(ready=not reasons, reasons=reasons), status_code=AWAY if reasons else OK)

    @get("/metrics", **documented(operations.SHOW_METRICS))
    async def show_metrics(self, watched: NamedDependency[Watched]) -> Response[bytes]:
        """Figures for Prometheus."""
        return Response(generate_latest(watched.registry), headers={"content-type": FIGURES})

    @get("/openapi.json", **documented(operations.SHOW_DOCUMENT))
    async def show_document(self, request: StrictRequest) -> Response[bytes]:
        """The OpenAPI document."""
        return Response(written(request.app).encode(), media_type=JSON)

    @get("/docs", **documented(operations.SHOW_DOCS))
    async def show_docs(self) -> Response[bytes]:
        """The page that shows the OpenAPI document."""
        return Response(_page_file(PAGE), headers={"content-type": MEDIA_TYPES["html"]})

    @get("/docs/{file:str}", **documented(operations.SHOW_DOCS_FILE))
    async def show_docs_file(self, file: FileName) -> Response[bytes]:
        """A file that the page needs."""
        if file not in _page_files():
            raise RefusalError("not-found", "There is no such file. See /docs.")
        headers = {"content-type": MEDIA_TYPES[file.rsplit(".")[-1]], "cache-control": PUBLIC_FOR_A_DAY}
        return Response(_page_file(file), headers=headers)


@cache
def _page_files() -> frozenset[str]:
    """The files that the page needs; it has an address of its own."""
    found = (each.name for each in (files("service.api.pages") / "docs").iterdir() if each.is_file())
    return frozenset(found) - {PAGE}


@cache
def _page_file(name: str) -> bytes:
    return (files("service.api.pages") / "docs" / name).read_bytes()
