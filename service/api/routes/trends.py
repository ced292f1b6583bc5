"""The routes of trends."""

from typing import Annotated

from msgspec import Meta

from service.api import trend_examples as examples
from service.api.documents import Moment
from service.api.handlers import trends as does
from service.api.problems import OK, SVG
from service.api.requests import Parameter
from service.api.routing import Example, Reply, Route
from service.api.trend_documents import TrendShown
from service.engine.texts import Code, RevisionNumber
from service.ports import Scope
from service.usecases.ledger.trending import MOST_LOTS
from service.usecases.paging import MOST_AT_ONCE

TREND = "/v1/grades/{grade}/trends/{characteristic}"
Lots = Annotated[int, Meta(ge=1, le=MOST_LOTS)]
WANTED = (
    Parameter("line", Code, "Only lots from this line.", "L-3"),
    Parameter("from", Moment, "Only lots closed at this moment or later.", "2026-11-01T00:00:00Z"),
    Parameter("until", Moment, "Only lots closed before this moment.", "2026-12-01T00:00:00Z"),
    Parameter("revision", RevisionNumber, "By whose unit and limits; the one in force where it is left out.", 1),
    Parameter("limit", Lots, f"The newest so many lots; {MOST_AT_ONCE} where it is left out.", 100),
)
OF_A_TREND = ("not-found", "not-ready")


def trend_routes() -> tuple[Route, ...]:
    """A trend, as figures and as a chart."""
    return (
        Route(
            method="GET",
            path=TREND,
            operation_id="showTrend",
            scope=Scope.READ,
            tag="lots",
            summary="Show how a characteristic ran over lots",
            description="Mean and spread of each lot with a verdict, from the evidence of its newest one and in the order in "
            "which the lots were closed; capability with its interval; control limits, and what breaks them. Readings count as "
            "in a verdict; of a second sample none does. What can't be said yet stands under `lacking`.",
            handler=does.show_trend,
            parameters=WANTED,
            replies=[Reply(OK, "The trend.", TrendShown, [Example("trend", examples.TREND)])],
            refusals=OF_A_TREND,
        ),
        Route(
            method="GET",
            path=f"{TREND}/chart",
            operation_id="showTrendChart",
            scope=Scope.READ,
            tag="lots",
            summary="Draw how a characteristic ran over lots",
            description="The same as a control chart in SVG: without scripts, and with a title and a description for whoever "
            "hears it.",
            handler=does.show_chart,
            parameters=WANTED,
            replies=[Reply(OK, "The chart.", str, [Example("chart", examples.CHART)], media_type=SVG)],
            refusals=OF_A_TREND,
        ),
    )
