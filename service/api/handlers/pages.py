"""What is no resource of the trade: the OpenAPI document, its page, health, figures."""

from functools import cache
from importlib.resources import files

from service.api.documents import Health
from service.api.problems import AWAY, CSS, HTML, OK, PLAIN, SCRIPT, Answer, RefusalError
from service.api.requests import Request
from service.api.service import Service, shown

MEDIA_TYPES = {"html": HTML, "css": CSS, "js": SCRIPT, "txt": PLAIN}
FOR_A_DAY = "public, max-age=86400"


async def show_document(request: Request, service: Service) -> Answer:
    """The OpenAPI document."""
    return Answer(OK, service.document())


async def show_docs(request: Request, service: Service) -> Answer:
    """The page that shows the OpenAPI document."""
    return Answer(OK, _file("index.html"), HTML)


async def show_docs_file(request: Request, service: Service) -> Answer:
    """A file that the page needs."""
    name = request.path["file"]
    if name not in _names():
        raise RefusalError("not-found", "There is no such file. See /docs.")
    return Answer(OK, _file(name), MEDIA_TYPES[name.rsplit(".")[-1]], keep=FOR_A_DAY)


@cache
def _names() -> frozenset[str]:
    """The files that there are."""
    return frozenset(each.name for each in (files("service.api") / "docs").iterdir() if each.is_file())


@cache
def _file(name: str) -> bytes:
    return (files("service.api") / "docs" / name).read_bytes()


async def show_live(request: Request, service: Service) -> Answer:
    """The process answers."""
    return shown(Health(ready=True, reasons=[]))


async def show_ready(request: Request, service: Service) -> Answer:
    """Whether requests can be answered, and why not."""
    reasons = await service.reasons_not_ready()
    return shown(Health(ready=not reasons, reasons=reasons), AWAY if reasons else OK)


async def show_metrics(request: Request, service: Service) -> Answer:
    """Figures for Prometheus."""
    return Answer(OK, service.exposition(), "text/plain; version=0.0.4; charset=utf-8")
