"""Declarations of the operations on trends, for the OpenAPI document, logs and access control."""

from service.api.operations import SVG, Operation, Reply
from service.api.problems import OK
from service.api.trends.documents import TrendShown
from service.ports.catalogue import Scope

SHOW_TREND = Operation(
    name="showTrend",
    tag="lots",
    summary="Show how a characteristic ran over lots",
    description=(
        "Mean and spread of each lot with a verdict, from the evidence of its newest one and in the order in which "
        "the lots were closed; capability with its interval; control limits, and what breaks them. Readings count "
        "as in a verdict; of a second sample none does. What can't be said yet stands under `lacking`."
    ),
    scope=Scope.READ,
    replies=(Reply(OK, "The trend.", TrendShown),),
    refusals=("not-found", "not-ready"),
)
SHOW_TREND_CHART = Operation(
    name="showTrendChart",
    tag="lots",
    summary="Draw how a characteristic ran over lots",
    description=(
        "The same as a control chart in SVG: without scripts, and with a title and a description for whoever hears it."
    ),
    scope=Scope.READ,
    replies=(Reply(OK, "The chart.", str, media_type=SVG),),
    refusals=("not-found", "not-ready"),
)
