"""Trends: a characteristic over the lots of a grade, as figures and as a chart."""

from typing import Any

from msgspec import UNSET

from service.api.moments import in_utc
from service.api.problems import OK, SVG, Answer
from service.api.requests import Request
from service.api.service import Service, shown
from service.api.trend_documents import TrendShown
from service.engine.trends import chart, lacking
from service.ports import ClosedWanted
from service.usecases.ledger import trending
from service.usecases.paging import MOST_AT_ONCE


async def show_trend(request: Request, service: Service) -> Answer:
    """The trend as figures."""
    held, trend, left_out = await _trended(request, service)
    document = TrendShown(
        grade=held.grade,
        revision=held.number,
        specification=held.compiled.digest,
        line=request.query.get("line", UNSET),
        trend=trend,
        left_out=list(left_out),
        lacking=list(lacking(trend)),
    )
    return shown(document)


async def show_chart(request: Request, service: Service) -> Answer:
    """The trend as a chart."""
    return Answer(OK, chart((await _trended(request, service)).trend).encode(), SVG)


async def _trended(request: Request, service: Service) -> trending.Trended:
    """The trend that is asked for."""
    query: dict[str, Any] = dict(request.query)
    revision = query.pop("revision", None)
    if "line" in query:
        query["lines"] = (query.pop("line"),)
    query |= {f"closed_{name}": in_utc(query.pop(name), f"/{name}") for name in ("from", "until") if name in query}
    wanted = ClosedWanted(grade=request.path["grade"], **{"limit": MOST_AT_ONCE, **query})
    name = request.path["characteristic"]
    return await trending.trend(service.catalogue, service.shelf, service.history, name, wanted, revision)
