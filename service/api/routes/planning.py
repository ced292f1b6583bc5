"""The route that tells the risks of a sampling plan."""

from collections.abc import Mapping
from typing import Any

from service.api import examples
from service.api.handlers.planning import show_sampling_plan
from service.api.problems import OK
from service.api.routing import Body, Example, Reply, Route
from service.ports import Scope
from service.usecases.plan_requests import PlanRequest
from service.usecases.planning import SamplingPlan

# Written out, since working them out would load at each start what only a plan needs; a test compares them with the service.
BY_ATTRIBUTES: Mapping[str, Any] = {
    "format": 1,
    "engine": "1",
    "by": "attributes",
    "table": "MIL-STD-105E",
    "letter": "J",
    "inspection": "normal",
    "stages": [{"packages": 50, "accept": 2, "reject": 5}, {"packages": 50, "accept": 6, "reject": 7}],
    "law": "binomial",
    "curve": [
        {
            "quality": 1,
            "acceptance": 0.999814762017,
            "average_outgoing_quality": 0.957587812231,
            "average_sample_number": 50.6835790781,
        },
        {
            "quality": 2.5,
            "acceptance": 0.984862094392,
            "average_outgoing_quality": 2.34766542921,
            "average_sample_number": 56.0622588905,
        },
        {
            "quality": 5,
            "acceptance": 0.781226815216,
            "average_outgoing_quality": 3.6932339703,
            "average_sample_number": 67.7925033568,
        },
        {
            "quality": 10,
            "acceptance": 0.166623003771,
            "average_outgoing_quality": 1.57393118304,
            "average_sample_number": 65.9734825241,
        },
    ],
    "producer": {"quality": 3.30744824377, "acceptance": 0.95},
    "consumer": {"quality": 11.187718805, "acceptance": 0.1},
}
BY_VARIABLES: Mapping[str, Any] = {
    "format": 1,
    "engine": "1",
    "by": "variables",
    "inspection": "normal",
    "stages": [{"packages": 37, "k": 1.8779}],
    "law": "noncentral_t",
    "curve": [
        {
            "quality": 1,
            "acceptance": 0.951496789607,
            "average_outgoing_quality": 0.951496789607,
            "average_sample_number": 37.0,
        },
        {
            "quality": 6.5,
            "acceptance": 0.0999594420949,
            "average_outgoing_quality": 0.649736373617,
            "average_sample_number": 37.0,
        },
    ],
    "producer": {"quality": 1.01117751954, "acceptance": 0.95},
    "consumer": {"quality": 6.49921566119, "acceptance": 0.1},
}


def planning_routes() -> tuple[Route, ...]:
    """Sampling plans."""
    return (
        Route(
            method="POST",
            path="/v1/sampling-plans",
            operation_id="showSamplingPlan",
            scope=Scope.JUDGE,
            tag="judging",
            summary="Work out a sampling plan and its risks",
            description="What a plan comes to for a lot, by attributes or by variables, and its operating characteristic: at "
            "each quality how often it accepts, what leaves on average where rejected lots are sorted, and how many packages "
            "are drawn on average. Figures have twelve digits and decide nothing. Nothing is stored.",
            handler=show_sampling_plan,
            body=Body(
                PlanRequest,
                [
                    Example("by-attributes", examples.PLAN_BY_ATTRIBUTES),
                    Example("by-variables", examples.PLAN_BY_VARIABLES),
                ],
            ),
            replies=[
                Reply(
                    OK,
                    "The plan and its risks.",
                    SamplingPlan,
                    [Example("by-attributes", BY_ATTRIBUTES), Example("by-variables", BY_VARIABLES)],
                )
            ],
        ),
    )
