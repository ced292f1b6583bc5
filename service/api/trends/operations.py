"""Declarations of the operations on trends, for the OpenAPI document, logs and access control."""

from service.api.operations import SVG, Operation, Reply
from service.api.problems import OK
from service.api.trends.documents import TrendShown
from service.ports.catalogue import Scope

SHOW_TREND = Operation(
    name="showTrend",
    tag="lots",
    summary="Show the trend of a characteristic over lots",
    description=(
        "Mean and standard deviation of each lot with a verdict, from the evidence of its newest one, in the order in "
        "which the lots were closed; capability with its interval; control limits, and the points outside them. Readings "
        "count as in a verdict; those of a second sample do not count. What can't be calculated yet is listed in "
        "`lacking`."
    ),
    scope=Scope.READ,
    replies=(Reply(OK, "The trend.", TrendShown),),
    refusals=("not-found", "not-ready"),
)
SHOW_TREND_CHART = Operation(
    name="showTrendChart",
    tag="lots",
    summary="Draw the trend of a characteristic over lots",
    description=(
        "The trend as a control chart in SVG, without scripts, and with a title and a description for screen readers."
    ),
    scope=Scope.READ,
    replies=(Reply(OK, "The chart.", str, media_type=SVG),),
    refusals=("not-found", "not-ready"),
)
