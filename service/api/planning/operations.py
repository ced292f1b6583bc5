"""Declarations of the operations on sampling plans, for the OpenAPI document, logs and access control."""

from service.api.operations import Operation, Reply
from service.api.problems import OK
from service.ports.catalogue import Scope
from service.usecases.sampling_plans import PlanRequest, SamplingPlan

SHOW_SAMPLING_PLAN = Operation(
    name="showSamplingPlan",
    tag="judging",
    summary="Calculate a sampling plan and its risks",
    description=(
        "The plan for a lot, by attributes or by variables, and its operating characteristic: at each quality how often "
        "lots are accepted, the average outgoing quality where rejected lots are sorted, and the average number of "
        "packages drawn. Figures have twelve digits and decide nothing. Nothing is stored."
    ),
    scope=Scope.JUDGE,
    body=PlanRequest,
    replies=(Reply(OK, "The plan and its risks.", SamplingPlan),),
)
