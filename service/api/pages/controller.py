"""The controller of the service itself: the OpenAPI document and its page, health, metrics."""

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
    """What these handlers need: the registry of metrics and the reasons for not being ready."""

    registry: CollectorRegistry
    reasons_not_ready: Callable[[], Awaitable[list[str]]]
    """Returns why requests can't be answered now; [] where they can."""


class PageController(Controller):
    """The service itself."""

    path = "/"

    @get("/health/live", **documented(operations.SHOW_LIVE))
    async def show_live(self) -> Health:
        """Report that the process answers, whatever the state of the database."""
        return Health(ready=True, reasons=[])

    @get("/health/ready", **documented(operations.SHOW_READY))
    async def show_ready(self, watched: NamedDependency[Watched]) -> Response[Health]:
        """Report whether requests can be answered, and why not."""
        reasons = await watched.reasons_not_ready()
        return Response(Health(ready=not reasons, reasons=reasons), status_code=AWAY if reasons else OK)

    @get("/metrics", **documented(operations.SHOW_METRICS))
    async def show_metrics(self, watched: NamedDependency[Watched]) -> Response[bytes]:
        """Show the metrics in Prometheus' text format."""
        return Response(generate_latest(watched.registry), headers={"content-type": FIGURES})

    @get("/openapi.json", **documented(operations.SHOW_DOCUMENT))
    async def show_document(self, request: StrictRequest) -> Response[bytes]:
        """Show the OpenAPI document."""
        return Response(written(request.app).encode(), media_type=JSON)

    @get("/docs", **documented(operations.SHOW_DOCS))
    async def show_docs(self) -> Response[bytes]:
        """Show the HTML page of the OpenAPI document."""
        return Response(_page_file(PAGE), headers={"content-type": MEDIA_TYPES["html"]})

    @get("/docs/{file:str}", **documented(operations.SHOW_DOCS_FILE))
    async def show_docs_file(self, file: FileName) -> Response[bytes]:
        """Show a file that the page needs."""
        # Only names from the package's listing: no path can be built from what a caller writes.
        if file not in _page_files():
            raise RefusalError("not-found", "There is no such file. See /docs.")
        headers = {"content-type": MEDIA_TYPES[file.rsplit(".")[-1]], "cache-control": PUBLIC_FOR_A_DAY}
        return Response(_page_file(file), headers=headers)


@cache
def _page_files() -> frozenset[str]:
    """The names of the page's files, without the page itself, which has its own URL."""
    found = (file.name for file in (files("service.api.pages") / "docs").iterdir() if file.is_file())
    return frozenset(found) - {PAGE}


# Cached without end: the names are those of `_page_files` alone, and the files never change while the process runs.
@cache
def _page_file(name: str) -> bytes:
    return (files("service.api.pages") / "docs" / name).read_bytes()
