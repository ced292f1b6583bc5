"""Declarations of the operations on sampling plans, for the OpenAPI document, logs and access control."""

from service.api.operations import Operation, Reply
from service.api.problems import OK
from service.ports.catalogue import Scope
from service.usecases.sampling_plans import PlanRequest, SamplingPlan

SHOW_SAMPLING_PLAN = Operation(
    name="showSamplingPlan",
    tag="judging",
    summary="Work out a sampling plan and its risks",
    description=(
        "What a plan comes to for a lot, by attributes or by variables, and its operating characteristic: at each "
        "quality how often it accepts, what leaves on average where rejected lots are sorted, and how many "
        "packages are drawn on average. Figures have twelve digits and decide nothing. Nothing is stored."
    ),
    scope=Scope.JUDGE,
    body=PlanRequest,
    replies=(Reply(OK, "The plan and its risks.", SamplingPlan),),
)
